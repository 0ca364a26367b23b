import {
  type Document,
  isMap,
  isNode,
  isPair,
  isScalar,
  isSeq,
  LineCounter,
  type Node,
  parseDocument,
} from "yaml";
import type { z } from "zod";
import { nearest } from "./nearest.ts";

/** One thing wrong in a file people edit; line and column count from 1. */
export interface FileProblem {
  readonly file: string;
  readonly line: number;
  readonly column: number;
  /** Where in the structure, like "steps[0].settle"; "" for the file as a whole. */
  readonly path: string;
  readonly found: string;
  readonly expected: string;
  readonly hint?: string;
}

/** Everything wrong with one or more files, in order of position. */
export class FileProblems extends Error {
  readonly problems: readonly FileProblem[];
  constructor(problems: readonly FileProblem[]) {
    super(problems.map(describeProblem).join("\n"));
    this.name = "FileProblems";
    this.problems = problems;
  }
}

/** @example "limits/a.yaml:7:11: steps[0].settle: found \"5\", expected a time with its unit, like \"8 s\"" */
export function describeProblem(problem: FileProblem): string {
  const { file, line, column, path, found, expected, hint } = problem;
  const where = `${file}:${line}:${column}: ${path === "" ? "" : `${path}: `}`;
  return `${where}found ${found}, expected ${expected}${hint === undefined ? "" : ` (${hint})`}`;
}

/**
 * Reads YAML 1.2 text and checks it with a schema.
 *
 * Messages of the schema are taken as the words after "expected". A custom issue may carry `params.found` and
 * `params.hint`, as the quantity schemas do.
 * @param path named in every problem
 * @returns the schema's output
 * @throws FileProblems with every problem found, and nothing else
 */
export function readCheckedYaml<T>(path: string, text: string, schema: z.ZodType<T>): T {
  const lines = new LineCounter();
  const at = (offset: number) => {
    const { line, col } = lines.linePos(offset);
    return { file: path, line: Math.max(1, line), column: Math.max(1, col) };
  };
  const { document, data } = parseStrictly(text, lines, at);
  const allowedKeys = new Map<string, readonly string[]>();
  const checked = schema.safeParse(data, {
    reportInput: true,
    error: (issue) => {
      if (issue.code === "unrecognized_keys") {
        allowedKeys.set(pathText(issue.path ?? []), shapeKeys(issue.inst));
      }
      return expectation(issue);
    },
  });
  if (checked.success) return checked.data;
  const problems = checked.error.issues
    .flatMap((issue) => innermost(issue))
    .flatMap((issue) => problemsOf(issue, { document, text, at, allowedKeys }));
  throw new FileProblems(inOrder(problems));
}

type At = (offset: number) => { file: string; line: number; column: number };

// One early mistake makes the parser stumble over everything behind it.
const MOST_SYNTAX_FAULTS = 20;

function parseStrictly(text: string, lines: LineCounter, at: At): { document: Document; data: unknown } {
  const problems: FileProblem[] = [];
  try {
    const document = parseDocument(text, { lineCounter: lines, prettyErrors: false, logLevel: "error" });
    for (const fault of [...document.errors, ...document.warnings].slice(0, MOST_SYNTAX_FAULTS)) {
      const position = at(fault.pos[0]);
      problems.push({ ...position, path: "", ...yamlFault(fault.code, fault.message) });
    }
    if (problems.length === 0) return { document, data: document.toJS({ maxAliasCount: 100 }) as unknown };
  } catch (error) {
    // The parser's own limits: unknown or exploding aliases, nesting beyond the stack.
    const reason = error instanceof Error ? error.message : String(error);
    problems.push({ ...at(0), path: "", found: reason, expected: "YAML that can be read" });
  }
  throw new FileProblems(inOrder(problems));
}

function yamlFault(code: string, message: string): Pick<FileProblem, "found" | "expected"> {
  if (code === "DUPLICATE_KEY") return { found: "a key that is there already", expected: "each key once" };
  if (code === "MULTIPLE_DOCS") return { found: "a second document", expected: "one document in the file" };
  if (code === "TAB_AS_INDENT") return { found: "a tab", expected: "spaces for indentation" };
  return { found: `broken YAML: ${message}`, expected: "valid YAML" };
}

type Issue = z.core.$ZodIssue;

/** A failed union: the problems of the alternative that came closest, else the union's own. */
function innermost(issue: Issue): Issue[] {
  if (issue.code !== "invalid_union" || issue.errors.length === 0) return [issue];
  const alternatives = issue.errors.map((alternative) =>
    alternative.flatMap((inner) => innermost({ ...inner, path: [...issue.path, ...inner.path] } as Issue)),
  );
  const depth = (issues: Issue[]) => Math.max(...issues.map((inner) => inner.path.length));
  const deepest = Math.max(...alternatives.map(depth));
  const closest = alternatives.filter((alternative) => depth(alternative) === deepest);
  if (deepest === issue.path.length && closest.length > 1) return [issue];
  return closest.reduce((best, next) => (next.length < best.length ? next : best));
}

interface Source {
  readonly document: Document;
  readonly text: string;
  readonly at: At;
  readonly allowedKeys: ReadonlyMap<string, readonly string[]>;
}

function problemsOf(issue: Issue, source: Source): FileProblem[] {
  const path = pathText(issue.path);
  if (issue.code === "unrecognized_keys") {
    const allowed = source.allowedKeys.get(path) ?? [];
    return issue.keys.map((key) => {
      const near = nearest(key, allowed);
      return {
        ...source.at(locate(source.document, [...issue.path, key]).key),
        path: pathText([...issue.path, key]),
        found: "an unknown key",
        expected: allowed.length > 0 ? `one of ${allowed.join(", ")}` : "no such key",
        ...(near === undefined ? {} : { hint: `did you mean ${near}?` }),
      };
    });
  }
  const { value, present, node } = locate(source.document, issue.path);
  const params = issue.code === "custom" ? issue.params : undefined;
  const hint: unknown = params?.hint;
  const found: unknown = params?.found;
  return [
    {
      ...source.at(value),
      path,
      found: !present
        ? "nothing: the key is missing"
        : typeof found === "string"
          ? found
          : shown(node, source.text),
      expected: issue.message,
      ...(typeof hint === "string" ? { hint } : {}),
    },
  ];
}

interface Place {
  /** Offset of the value, of the key, and whether the value is there at all; a missing one lies at its parent. */
  readonly value: number;
  readonly key: number;
  readonly present: boolean;
  readonly node: unknown;
}

function locate(document: Document, path: readonly PropertyKey[]): Place {
  let node: unknown = document.contents;
  let value = startOf(node) ?? 0;
  let key = value;
  for (const segment of path) {
    const step = stepInto(document, node, segment);
    if (!step) return { value: key, key, present: false, node: undefined };
    node = resolved(document, step.node);
    key = step.key ?? startOf(node) ?? value;
    value = startOf(node) ?? key;
  }
  return { value, key, present: true, node };
}

function stepInto(
  document: Document,
  parent: unknown,
  segment: PropertyKey,
): { node: unknown; key?: number | undefined } | undefined {
  if (isMap(parent)) {
    for (const pair of parent.items) {
      if (!isPair(pair)) continue;
      const name = resolved(document, pair.key);
      if (isScalar(name) && String(name.value) === String(segment)) {
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

function expectation(issue: z.core.$ZodRawIssue): string {
  switch (issue.code) {
    case "invalid_type":
      return TYPE_WORDS[issue.expected] ?? issue.expected;
    case "invalid_value":
      return issue.values.length === 1
        ? JSON.stringify(issue.values[0])
        : `one of ${issue.values.map((value) => JSON.stringify(value)).join(", ")}`;
    case "too_small":
      return bound(issue.origin, issue.inclusive === false ? "more than" : "at least", issue.minimum);
    case "too_big":
      return bound(issue.origin, issue.inclusive === false ? "less than" : "at most", issue.maximum);
    case "invalid_union":
      return discriminatorWords(issue.inst) ?? "one of the allowed forms";
    case "invalid_format":
      return issue.format === "regex" ? "another form" : `a valid ${issue.format}`;
    case "not_multiple_of":
      return `a multiple of ${issue.divisor}`;
    case "unrecognized_keys":
      return "known keys only";
    default:
      return "another value";
  }
}

const TYPE_WORDS: Readonly<Record<string, string>> = {
  string: "text",
  number: "a number",
  int: "a whole number",
  boolean: "true or false",
  object: "a mapping",
  record: "a mapping",
  array: "a list",
  null: "nothing",
};

function bound(origin: string, words: string, limit: unknown): string {
  const things = origin === "string" ? " characters" : origin === "array" ? " entries" : "";
  return `${words} ${String(limit)}${things}`;
}

/** Only zod itself knows which keys a strict object takes; it hands over the schema in the raw issue. */
function shapeKeys(inst: z.core.$ZodRawIssue["inst"]): string[] {
  const def: unknown = inst?._zod.def;
  if (typeof def !== "object" || def === null || !("shape" in def)) return [];
  return typeof def.shape === "object" && def.shape !== null ? Object.keys(def.shape) : [];
}

function discriminatorWords(inst: z.core.$ZodRawIssue["inst"]): string | undefined {
  const def: unknown = inst?._zod.def;
  if (typeof def !== "object" || def === null || !("discriminator" in def) || !("options" in def))
    return undefined;
  const key = String(def.discriminator);
  const options = Array.isArray(def.options) ? (def.options as z.core.$ZodType[]) : [];
  const values = options.flatMap((option) => [...(option._zod.propValues?.[key] ?? [])].map(String));
  return `one of ${values.map((value) => JSON.stringify(value)).join(", ")}`;
}

/** @example pathText(["steps", 0, "settle"]) // "steps[0].settle" */
function pathText(path: readonly PropertyKey[]): string {
  return path.reduce<string>((text, segment) => {
    if (typeof segment === "number") return `${text}[${segment}]`;
    return text === "" ? String(segment) : `${text}.${String(segment)}`;
  }, "");
}

function inOrder(problems: readonly FileProblem[]): FileProblem[] {
  // One fault can make the YAML parser repeat itself.
  const once = new Map(problems.map((problem) => [describeProblem(problem), problem]));
  return [...once.values()].sort((a, b) => a.line - b.line || a.column - b.column);
}
