import { createHash } from "node:crypto";
import {
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  writeFileSync,
} from "node:fs";
import { isBuiltin } from "node:module";
import { dirname, join } from "node:path";
import { rolldown } from "rolldown";

/*
 * Makes the program that is run, `dist/program/`, of the sources and of most libraries: some hundred files instead of two thousand,
 * of which Node would take the better part of a millisecond to load each. `import()` stays what it is, so that a command loads what
 * it needs. Nothing is done where nothing has changed: stations may be running, and load what they need later on from the same
 * folder. So a file comes there whole, under a name of its content, and those of earlier builds stay for a while.
 */

const ROOT = dirname(import.meta.dirname);
const FOLDER = join(ROOT, "dist", "program");
const STAMP = join(FOLDER, "built.json");
const SOURCES = ["drivers", "limits", "sim", "station"];
const ENTRIES = { main: "station/main.ts", "sealed-worker": "station/records/sealed-worker.ts" };
/** Left where npm put them: what has a native part or reads files beside its own code, and what is one large file already. */
const APART =
  /^(@libsql\/.*|serialport|@serialport\/.*|modbus-serial|pdfkit|pdfmake|bwip-js|react-devtools-core)(\/|$)/;
const KEPT_ms = 90 * 86_400_000;

/**
 * Which native part is this machine's, libsql asks its loader, which has Node write a whole diagnostic report for that: a tenth of the
 * time of a `find`. Nearly always the system's `ldd` tells as much, which libsql reads in any case; else the loader is asked.
 */
const NATIVE_TARGET = {
  name: "native-target",
  transform: {
    filter: { id: /[\\/]node_modules[\\/]libsql[\\/]index\.js$/ },
    handler(code) {
      const asked = "let target = currentTarget();";
      if (!code.includes(asked))
        throw new Error("libsql finds its native part in another way now: look at .build/bundle.mjs.");
      const known = '["x64", "arm64"].includes(process.arch) && familySync() === GLIBC';
      const answered = `let target = ${known} ? \`linux-${process.arch}-gnu\` : currentTarget();`;
      // Within its line: what is known of lines holds.
      return { code: code.replace(asked, () => answered), map: null };
    },
  },
};

/** These two ask at every start for Node's module of child processes, which has the network's with it, and hardly ever start one. */
const CHILDREN_WHEN_STARTED = {
  name: "children-when-started",
  transform: {
    filter: {
      id: /[\\/]node_modules[\\/](commander[\\/]lib[\\/]command|detect-libc[\\/]lib[\\/]detect-libc)\.js$/,
    },
    handler(code, id) {
      const [asked, required] =
        /const childProcess = (require\('(?:node:)?child_process'\));/.exec(code) ?? [];
      if (!asked) throw new Error(`${id} starts children in another way now: look at .build/bundle.mjs.`);
      return { code: code.replace(asked, "").replaceAll("childProcess.", () => `${required}.`), map: null };
    },
  },
};

/**
 * An import of one of Node's own modules asks it for all its names, also those that Node makes of more modules only when they are asked
 * for: the web's cryptography, streams of files. So the names wanted are asked for alone, at the same line.
 */
const OWN_MODULES_BY_NAME = {
  name: "own-modules-by-name",
  renderChunk(code) {
    const imported = /^import (?:([\w$]+)|([\w$]+, )?\{([^}]*)\}) from "(?:node:)?([\w/]+)";$/gm;
    const asked = code.replace(imported, (line, whole, wholeToo, names, module) => {
      if (!isBuiltin(module)) return line;
      const got = `process.getBuiltinModule("${module}")`;
      if (whole) return `const ${whole} = ${got};`;
      const wanted = `{${names.replaceAll(" as ", ": ")}}`;
      return wholeToo
        ? `const ${wholeToo.slice(0, -2)} = ${got}, ${wanted} = ${got};`
        : `const ${wanted} = ${got};`;
    });
    return { code: asked, map: null };
  },
};

const state = stateOf([
  "package-lock.json",
  ".build/bundle.mjs",
  ...SOURCES.flatMap((folder) => filesIn(folder)),
]);
if (!isBuilt(state)) {
  const files = await bundle();
  mkdirSync(FOLDER, { recursive: true });
  // What others import before what imports it; `main.js`, which is the program, comes last.
  const names = files.map(({ name }) => name).sort((a, b) => rankOf(a) - rankOf(b));
  for (const name of names) put(name, files.find((file) => file.name === name).content);
  put("built.json", JSON.stringify({ state, names }));
  removeOld(new Set([...names, "built.json"]));
}

/** @returns the bundler's files; a folder's worker is found beside what starts it, so none lies in a folder below */
async function bundle() {
  const build = await rolldown({
    cwd: ROOT,
    input: ENTRIES,
    platform: "node",
    tsconfig: false,
    preserveEntrySignatures: false,
    external: APART,
    plugins: [NATIVE_TARGET, CHILDREN_WHEN_STARTED, OWN_MODULES_BY_NAME],
    transform: { define: { "process.env.NODE_ENV": '"production"' }, target: "node20.19" },
    logLevel: "warn",
  });
  const { output } = await build.generate({
    dir: FOLDER,
    sourcemap: true,
    // Errors are told apart by their names.
    keepNames: true,
    comments: { legal: true, annotation: false, jsdoc: false },
    codeSplitting: {
      // Each takes all that its file imports, apart from what the ones before it took. `main.ts` is in none: it waits for its command,
      // and what a command imports must not wait for it.
      groups: [
        {
          name: "command-line",
          test: /[\\/]station[\\/](command-line|lost-output)\.ts$|[\\/]extra-typings[\\/]esm\.mjs$/,
          priority: 2,
        },
        { name: "find-unit", test: /[\\/]station[\\/]commands[\\/]find-unit\.ts$/, priority: 1 },
      ],
    },
  });
  await build.close();
  return output.map((file) => ({
    name: file.fileName,
    content: file.type === "chunk" ? file.code : file.source,
  }));
}

function filesIn(folder) {
  return readdirSync(join(ROOT, folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && /\.tsx?$/.test(entry.name))
    .map((entry) => join(entry.parentPath, entry.name).slice(ROOT.length + 1))
    .sort();
}

function stateOf(files) {
  const hash = createHash("sha256");
  for (const file of files)
    hash
      .update(`${file}\0`)
      .update(readFileSync(join(ROOT, file)))
      .update("\0");
  return hash.digest("hex");
}

function isBuilt(state) {
  try {
    const built = JSON.parse(readFileSync(STAMP, "utf8"));
    return built.state === state && built.names.every((name) => existsSync(join(FOLDER, name)));
  } catch {
    return false;
  }
}

function rankOf(name) {
  return name === "main.js" ? 1 : 0;
}

/** Whoever loads the file meanwhile gets the whole of the old one or of the new one. */
function put(name, content) {
  const unfinished = join(FOLDER, `.${process.pid}.unfinished`);
  writeFileSync(unfinished, content, { mode: name === "main.js" ? 0o755 : 0o644 });
  renameSync(unfinished, join(FOLDER, name));
}

function removeOld(current) {
  const oldest_ms = Date.now() - KEPT_ms;
  for (const name of readdirSync(FOLDER)) {
    const path = join(FOLDER, name);
    if (!current.has(name) && statSync(path).mtimeMs < oldest_ms) rmSync(path, { force: true });
  }
}
