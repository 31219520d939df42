// Builds the viewer into the folder that TINBOOK_VIEWER_OUT names (by default the package's own static folder).

import { build } from "esbuild";
import { copyFile, mkdir, readFile, rename, rm, stat } from "node:fs/promises";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const out = resolve(process.env.TINBOOK_VIEWER_OUT || join(here, "..", "tinbook", "bench", "static"));
const LIMIT = 700_000; // bytes a bundle: it travels in every saved notebook and in every client's page

const common = {
  absWorkingDir: here,
  bundle: true,
  minify: true,
  target: "es2022",
  charset: "utf8",
  loader: { ".css": "text" },
  legalComments: "none",
  logLevel: "warning",
};
const three = JSON.parse(await readFile(join(here, "node_modules", "three", "package.json"), "utf8"));
const banner = { js: `/* Contains three.js ${three.version}, MIT licence: see three-licence.txt beside this file. */` };

// Whole or not at all: build beside the target, then swap.
const fresh = `${out}.new`;
await rm(fresh, { recursive: true, force: true });
await mkdir(fresh, { recursive: true });
try {
  await build({ ...common, banner, entryPoints: ["main.js"], format: "esm", outfile: join(fresh, "viewer.js") });
  await build({
    ...common,
    banner,
    entryPoints: ["page.js"],
    format: "iife",
    globalName: "tinbookViewer",
    outfile: join(fresh, "page.js"),
  });
  await build({ ...common, entryPoints: ["loader.js"], format: "esm", outfile: join(fresh, "loader.js") });
  await copyFile(join(here, "node_modules", "three", "LICENSE"), join(fresh, "three-licence.txt"));
  for (const name of ["viewer.js", "page.js"]) {
    const { size } = await stat(join(fresh, name));
    if (size >= LIMIT) throw new Error(`${name} has ${size} bytes, ${LIMIT} are allowed`);
    console.log(`${name} ${size} bytes`);
  }
  await rm(out, { recursive: true, force: true });
  await mkdir(dirname(out), { recursive: true });
  await rename(fresh, out);
} finally {
  await rm(fresh, { recursive: true, force: true });
}
