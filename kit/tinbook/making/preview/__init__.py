"""The preview: triangles, edges and labels of a made part for the live view, without the geometry kernel.

`import tinbook.making.preview as previews` loads nothing; `previews.build` does when it is first used.
"""

from tinbook.doors import doors

__getattr__, __dir__ = doors(__name__)
