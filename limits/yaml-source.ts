import {
  type Document,
  isMap,
  isNode,
  isPair,
  isScalar,
  isSeq,
  LineCounter,
  type Node,
  type Pair,
  parseDocument,
  type YAMLMap,
} from "yaml";

export type KeyPath = readonly PropertyKey[];

/** Line and column count from 1. */
export interface Position {
  readonly line: number;
  readonly column: number;
}

/** Something the YAML parser itself takes offence at. */
export interface YamlFault extends Position {
  readonly found: string;
  readonly expected: string;
}

/** A key written again in the same mapping. */
export interface RepeatedKey extends Position {
  readonly path: KeyPath;
  readonly firstLine: number;
}

/** Where a value lies, or where it would have to: a missing one lies at its parent. */
export interface Place extends Position {
  /** Position of the key; of the value itself in a list. */
  readonly key: Position;
  readonly isPresent: boolean;
  /** The value as the author would recognise it, such as `"8 s"` or "a list". */
  readonly shown: string;
}

// One early mistake makes the parser stumble over everything behind it.
const MOST_SYNTAX_FAULTS = 20;
/** Faults behind which the rest of the file still means what it says. */
const HARMLESS = new Set(["TAG_RESOLVE_FAILED"]);

/** The text of a YAML file, its content, and where each part of it stands. */
export class YamlSource {
  readonly faults: readonly YamlFault[];
  /** False: nothing but the faults can be said of the file. */
  readonly isReadable: boolean;
  readonly repeatedKeys: readonly RepeatedKey[];
  readonly #text: string;
  readonly #lines = new LineCounter();
  readonly #document: Document | undefined;
  readonly #overruled: readonly Overruled[] = [];

  constructor(text: string) {
    this.#text = text;
    const repeatedKeys: RepeatedKey[] = [];
    let faults: YamlFault[] = [];
    let isReadable = false;
    try {
      const document = parseDocument(text, {
        lineCounter: this.#lines,
        prettyErrors: false,
        logLevel: "error",
        // The parser would stop at the first; they are looked for here, and the rest of the file is read all the same.
        uniqueKeys: false,
      });
      const all = [...document.errors, ...document.warnings];
      faults = all.slice(0, MOST_SYNTAX_FAULTS).map((fault) => ({
        ...this.#at(fault.pos[0]),
        ...faultWords(fault.code, fault.message),
      }));
      isReadable = all.every(({ code }) => HARMLESS.has(code));
      if (isReadable) {
        this.#document = document;
        document.toJS(CONTENT);
        const { repeated, overruled } = repeatedPairs(document);
        this.#overruled = overruled;
        for (const { path, first, again } of repeated) {
          repeatedKeys.push({
            path,
            ...this.#at(startOf(again.key) ?? 0),
            firstLine: this.#at(startOf(first.key) ?? 0).line,
          });
        }
      }
    } catch (error) {
      // The parser's own limits: unknown or exploding aliases, nesting beyond the stack.
      const reason = error instanceof Error ? error.message : String(error);
      faults.push({ line: 1, column: 1, found: reason, expected: "YAML that can be read" });
      isReadable = false;
    }
    this.faults = faults;
    this.isReadable = isReadable;
    this.repeatedKeys = repeatedKeys;
  }

  /** The content as plain values; of a repeated key the last value. */
  content(): unknown {
    return this.#document?.toJS(CONTENT);
  }

  /**
   * Puts each value that a repeated key overrules in force for a while, so that it can be checked too.
   * @param check is given the path of the value, and the content with it
   */
  forEachOverruled(check: (path: KeyPath, content: unknown) => void): void {
    for (const { path, map, pair } of this.#overruled) {
      const before = map.items;
      map.items = [...before.filter((other) => other !== pair), pair];
      try {
        check(path, this.content());
      } catch (error) {
        // Moved, an alias can come to stand before what it stands for; the value in force has been checked.
        if (!(error instanceof ReferenceError)) throw error;
      } finally {
        map.items = before;
      }
    }
  }

  locate(path: KeyPath): Place {
    const { value, key, isPresent, node } = this.#find(path);
    return { ...this.#at(value), key: this.#at(key), isPresent, shown: shown(node, this.#text) };
  }

  /** @returns the keys of the mapping at the path; none where there is no mapping */
  keysAt(path: KeyPath): string[] {
    const { node } = this.#find(path);
    return isMap(node) ? node.items.flatMap((pair) => keyText(pair) ?? []) : [];
  }

  /** Reads a key as another one from now on; it stays where it is. */
  readKeyAs(path: KeyPath, from: string, to: string): void {
    const { node } = this.#find(path);
    if (!isMap(node)) return;
    for (const pair of node.items) {
      if (isPair(pair) && isScalar(pair.key) && keyText(pair) === from) pair.key.value = to;
    }
  }

  /** Reads a text as another one from now on, and a missing key as if it were there; its place stays. */
  readValueAs(path: KeyPath, text: string): void {
    const { node, isPresent } = this.#find(path);
    if (isScalar(node)) node.value = text;
    const parent = this.#find(path.slice(0, -1)).node;
    if (!isPresent && isMap(parent)) parent.set(String(path.at(-1)), text);
  }

  #at(offset: number): Position {
    const { line, col } = this.#lines.linePos(offset);
    return { line: Math.max(1, line), column: Math.max(1, col) };
  }

  #find(path: KeyPath): { value: number; key: number; isPresent: boolean; node: unknown } {
    const document = this.#document;
    let node: unknown = document?.contents;
    let value = startOf(node) ?? 0;
    let key = value;
    for (const segment of path) {
      const step = document && stepInto(document, node, segment);
      if (!step) return { value: key, key, isPresent: false, node: undefined };
      node = resolved(document, step.node);
      key = step.key ?? startOf(node) ?? value;
      value = startOf(node) ?? key;
    }
    return { value, key, isPresent: true, node };
  }
}

const CONTENT = { maxAliasCount: 100 };

function faultWords(code: string, message: string): Pick<YamlFault, "found" | "expected"> {
  if (code === "MULTIPLE_DOCS") return { found: "a second document", expected: "one document in the file" };
  if (code === "TAB_AS_INDENT") return { found: "a tab", expected: "spaces for indentation" };
  return { found: `broken YAML: ${message}`, expected: "valid YAML" };
}

interface Overruled {
  readonly path: KeyPath;
  readonly map: YAMLMap;
  readonly pair: Pair;
}

interface Repeated {
  readonly path: KeyPath;
  readonly first: Pair;
  readonly again: Pair;
}

/** Pairs whose key is there before in the same mapping, and pairs whose key comes again behind them. */
function repeatedPairs(document: Document): { repeated: Repeated[]; overruled: Overruled[] } {
  const repeated: Repeated[] = [];
  const overruled: Overruled[] = [];
  const walk = (node: unknown, path: KeyPath): void => {
    if (isSeq(node)) for (const [i, item] of node.items.entries()) walk(item, [...path, i]);
    if (!isMap(node)) return;
    const first = new Map<string, Pair>();
    const newest = new Map<string, Pair>();
    for (const pair of node.items) {
      const key = keyText(pair);
      if (key === undefined) continue;
      const inside = [...path, key];
      const earlier = first.get(key);
      const last = newest.get(key);
      if (earlier) repeated.push({ path: inside, first: earlier, again: pair });
      else first.set(key, pair);
      if (last) overruled.push({ path: inside, map: node, pair: last });
      newest.set(key, pair);
      walk(pair.value, inside);
    }
  };
  walk(document.contents, []);
  return { repeated, overruled };
}

/** @returns the key as plain values have it; undefined for a key that is no scalar */
function keyText(pair: unknown): string | undefined {
  if (!isPair(pair) || !isScalar(pair.key)) return undefined;
  return String(pair.key.value ?? "");
}

function stepInto(
  document: Document,
  parent: unknown,
  segment: PropertyKey,
): { node: unknown; key?: number | undefined } | undefined {
  if (isMap(parent)) {
    // From the end, because the last value of a repeated key is the one in force.
    for (const pair of [...parent.items].reverse()) {
      const name = resolved(document, pair.key);
      if (isScalar(name) && String(name.value ?? "") === String(segment)) {
        return { node: pair.value, key: startOf(pair.key) };
      }
    }
  }
  if (isSeq(parent) && typeof segment === "number" && segment < parent.items.length) {
    return { node: parent.items[segment] };
  }
  return undefined;
}

function resolved(document: Document, node: unknown): unknown {
  return isNode(node) && "resolve" in node && typeof node.resolve === "function"
    ? node.resolve(document)
    : node;
}

function startOf(node: unknown): number | undefined {
  return isNode(node) ? ((node as Node).range?.[0] ?? undefined) : undefined;
}

function shown(node: unknown, text: string): string {
  if (isMap(node)) return "a mapping";
  if (isSeq(node)) return "a list";
  if (!isScalar(node) || node.value === null) return "nothing";
  if (typeof node.value === "string") {
    return JSON.stringify(node.value.length > 80 ? `${node.value.slice(0, 77)}...` : node.value);
  }
  const [start, end] = node.range ?? [0, 0];
  return text.slice(start, end).trim();
}
