import { dirname } from "node:path";
import type { RandomStream } from "../../sim/random.ts";
import { ModelledDatabase } from "./modelled-database.ts";

/** A file: what programs read of it, and what of that a power cut would leave. */
export interface PlatterFile {
  readonly kind: "file";
  text: string;
  /** As of the last fsync. */
  durable: string;
}

export interface PlatterFolder {
  readonly kind: "folder";
  readonly names: Map<string, PlatterNode>;
  /** As of the folder's last fsync. */
  readonly durable: Map<string, PlatterNode>;
  /** Names given and taken since, in order; null for a name taken away. */
  pending: { readonly name: string; readonly node: PlatterNode | null }[];
}

export type PlatterNode = PlatterFile | PlatterFolder;

/** "kill": the program is gone, and the machine goes on. "power": what was not synced is lost, torn, or there after all. */
export type CrashKind = "kill" | "power";

/**
 * The surface of a modelled disk: folders, files and their names, each with what is known to be durable. POSIX promises no
 * more than fsync says: without it a file's bytes and a folder's names may each have come through a power cut or not, in any
 * combination (fsync(2), notes on directories; crash states as in Pillai et al., "All File Systems Are Not Created Equal",
 * OSDI 2014, section 2).
 */
export class Platter {
  readonly #root: PlatterFolder = newFolder();
  readonly #databases = new Map<string, ModelledDatabase>();

  nodeAt(path: string): PlatterNode | undefined {
    let node: PlatterNode | undefined = this.#root;
    for (const name of namesOf(path)) {
      if (node?.kind !== "folder") return undefined;
      node = node.names.get(name);
    }
    return node;
  }

  folderAt(path: string): PlatterFolder | undefined {
    const node = this.nodeAt(path);
    return node?.kind === "folder" ? node : undefined;
  }

  /** What a power cut at this moment would leave at the worst; undefined where it would leave no such file. */
  durableText(path: string): string | undefined {
    let node: PlatterNode | undefined = this.#root;
    for (const name of namesOf(path)) {
      if (node?.kind !== "folder") return undefined;
      node = node.durable.get(name);
    }
    return node?.kind === "file" ? node.durable : undefined;
  }

  /** Every file below a folder with its text, in order of the paths, relative to it. */
  files(path: string, isDurable = false): { readonly path: string; readonly text: string }[] {
    const found: { path: string; text: string }[] = [];
    const walk = (node: PlatterNode | undefined, at: string): void => {
      if (node?.kind === "file") found.push({ path: at, text: isDurable ? node.durable : node.text });
      if (node?.kind !== "folder") return;
      const names = isDurable ? node.durable : node.names;
      for (const name of [...names.keys()].sort()) walk(names.get(name), at === "" ? name : `${at}/${name}`);
    };
    walk(this.nodeAt(path), "");
    return found;
  }

  /** Gives a name to a node in its folder, or takes it away. */
  name(path: string, node: PlatterNode | null): void {
    const folder = this.folderAt(dirname(path));
    const name = namesOf(path).at(-1) ?? "";
    if (!folder) throw new Error(`no folder for ${path}`);
    if (node) folder.names.set(name, node);
    else folder.names.delete(name);
    folder.pending.push({ name, node });
  }

  sync(node: PlatterNode): void {
    if (node.kind === "file") {
      node.durable = node.text;
      return;
    }
    node.durable.clear();
    for (const [name, inner] of node.names) node.durable.set(name, inner);
    node.pending = [];
  }

  /** The SQLite file of this name; made where it is not there. */
  database(path: string): ModelledDatabase {
    const known = this.#databases.get(path) ?? new ModelledDatabase();
    this.#databases.set(path, known);
    return known;
  }

  removeDatabase(path: string): void {
    this.#databases.get(path)?.discard();
    this.#databases.delete(path);
  }

  /** What the next program finds once this one has ended so. */
  crash(kind: CrashKind, program: object, random: RandomStream): void {
    for (const database of this.#databases.values()) database.unlock(program);
    if (kind === "kill") return;
    settle(this.#root, random);
    for (const [path, database] of this.#databases) {
      if (!database.losePower(random)) this.removeDatabase(path);
    }
  }

  discard(): void {
    for (const database of this.#databases.values()) database.discard();
    this.#databases.clear();
  }
}

export function newFolder(): PlatterFolder {
  return { kind: "folder", names: new Map(), durable: new Map(), pending: [] };
}

function namesOf(path: string): string[] {
  return path.split("/").filter((name) => name !== "");
}

/** Makes of a folder what a power cut may have left of it, and of everything that it then names. */
function settle(folder: PlatterFolder, random: RandomStream): void {
  const { names, durable, pending } = folder;
  const isInOrder = random.chance(0.5);
  const upTo = Math.floor(random.between(0, pending.length + 1));
  names.clear();
  for (const [name, node] of durable) names.set(name, node);
  pending.forEach(({ name, node }, at) => {
    const survived = isInOrder ? at < upTo : random.chance(0.5);
    if (!survived) return;
    if (node) names.set(name, node);
    else names.delete(name);
  });
  durable.clear();
  folder.pending = [];
  for (const [name, node] of names) {
    durable.set(name, node);
    if (node.kind === "folder") settle(node, random);
    else {
      node.text = tornText(node, random);
      node.durable = node.text;
    }
  }
}

/** What a power cut may have left of bytes that were written and not synced. */
function tornText({ text, durable }: PlatterFile, random: RandomStream): string {
  if (text === durable) return text;
  const length = Math.floor(random.between(0, text.length));
  switch (random.pick(["old", "empty", "whole", "cut", "zeros"] as const)) {
    case "old":
      return durable;
    case "empty":
      return "";
    case "whole":
      return text;
    case "cut":
      return text.slice(0, length);
    case "zeros":
      // The length was journalled, the blocks were not.
      return text.slice(0, length) + "\0".repeat(text.length - length);
  }
}
