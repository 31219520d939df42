// Tiny source of every view: the viewer itself lives once in a notebook, in the widget that "library" names.

async function viewer(model) {
  const id = model.get("library").replace("IPY_MODEL_", "");
  const library = await model.widget_manager.get_model(id);
  if (!library.tinbookViewer) {
    const url = URL.createObjectURL(new Blob([library.get("source")], { type: "text/javascript" }));
    library.tinbookViewer = import(/* webpackIgnore: true */ url).finally(() => URL.revokeObjectURL(url));
  }
  return library.tinbookViewer;
}

export default {
  async render({ model, el }) {
    return (await viewer(model)).mount(model, el);
  },
};
