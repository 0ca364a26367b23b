import type { z } from "zod";
import { escaped } from "./escaped-text.ts";
import { keyOf } from "./faulty-file.ts";
import { nearest } from "./nearest.ts";
import { SchemaWords } from "./schema-words.ts";
import { type KeyPath, type Position, YamlSource } from "./yaml-source.ts";

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
  const where = `${file}:${line}:${column}: ${path === "" ? "" : `${short(path)}: `}`;
  const said = `${where}found ${short(found)}, expected ${expected}${hint === undefined ? "" : ` (${hint})`}`;
  // The file's own text is in it, and a terminal obeys some characters.
  return escaped(said);
}

/** What is longer than anybody reads only hides the rest of the sentence. */
function short(text: string): string {
  return text.length > MOST_SHOWN ? `${text.slice(0, MOST_SHOWN)}...` : text;
}

const MOST_SHOWN = 200;

/**
 * Reads YAML 1.2 text and checks it with a schema. What a mistyped key or choice most likely meant is taken for
 * meant while the rest is looked through, so that it hides no other mistake.
 *
 * Messages of the schema are taken as the words after "expected". A custom issue may carry `params.found` and
 * `params.hint`, as the quantity schemas do.
 * @param path named in every problem
 * @returns the schema's output
 * @throws FileProblems with every problem found, and nothing else
 */
export function readCheckedYaml<T>(path: string, text: string, schema: z.ZodType<T>): T {
  const source = new YamlSource(text);
  const faults = source.faults.map((fault): FileProblem => ({ file: path, path: "", ...fault }));
  if (!source.isReadable) throw new FileProblems(inOrder(faults));
  const repeats = source.repeatedKeys.map(
    ({ path: keys, line, column, firstLine }): FileProblem => ({
      ...{ file: path, line, column, path: pathText(keys) },
      found: `a key that is there already, in line ${firstLine}`,
      expected: "each key once",
    }),
  );
  const words = new SchemaWords();
  const look = (content: unknown) => schema.safeParse(content, { reportInput: true, error: words.expected });
  const checked = look(source.content());
  if (checked.success && faults.length + repeats.length === 0) return checked.data;
  const found = new Map<string, FileProblem[]>();
  const note = (issues: readonly Issue[]) => {
    // A later look, which takes more for meant, knows better what is wrong at the same place.
    for (const [place, problems] of byPlace(path, source, words, issues)) found.set(place, problems);
  };
  let issues = issuesOf(checked);
  note(issues);
  const taken = new Set<string>();
  while (takeForMeant(issues, source, words, taken)) {
    issues = issuesOf(look(source.content()));
    note(issues);
  }
  source.forEachOverruled((overruled, content) => {
    note(issuesOf(look(content)).filter((issue) => isAtOrIn(issue.path, overruled)));
  });
  throw new FileProblems(inOrder([...faults, ...repeats, ...[...found.values()].flat()]));
}

/** A problem found later in a file that could be read. */
export function problemIn(
  file: string,
  text: string,
  path: KeyPath,
  words: Pick<FileProblem, "expected" | "hint"> & { readonly found?: string },
): FileProblem {
  const { line, column, shown } = new YamlSource(text).locate(path);
  return { file, line, column, path: pathText(path), found: shown, ...words };
}

type Issue = z.core.$ZodIssue;

function issuesOf(checked: z.ZodSafeParseResult<unknown>): Issue[] {
  return checked.success ? [] : checked.error.issues.flatMap((issue) => innermost(issue));
}

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

function byPlace(
  file: string,
  source: YamlSource,
  words: SchemaWords,
  issues: readonly Issue[],
): Map<string, FileProblem[]> {
  const places = new Map<string, FileProblem[]>();
  const complained = new Set<string>();
  for (const issue of issues) {
    for (const problem of problemsOf(file, source, words, issue)) {
      const place = `${problem.line}:${problem.column}:${problem.path}`;
      // Of what the schema has against one value, the first says it; contradictions each say something else.
      if (issue.code !== "custom" && complained.has(place)) continue;
      if (issue.code !== "custom") complained.add(place);
      places.set(place, [...(places.get(place) ?? []), problem]);
    }
  }
  return places;
}

function problemsOf(file: string, source: YamlSource, words: SchemaWords, issue: Issue): FileProblem[] {
  if (issue.code === "unrecognized_keys") {
    return issue.keys.map((key) => ({
      file,
      ...at(source.locate([...issue.path, key]).key),
      path: pathText([...issue.path, key]),
      found: "an unknown key",
      expected: issue.message,
      ...didYouMean(nearest(key, words.allowedKeys(issue))),
    }));
  }
  const place = source.locate(issue.path);
  const params = issue.code === "custom" ? issue.params : undefined;
  const isAboutKey = params?.isAboutKey === true;
  const found = typeof params?.found === "string" ? params.found : place.shown;
  return [
    {
      file,
      ...at(isAboutKey ? place.key : place),
      path: pathText(issue.path),
      found: place.isPresent ? found : "nothing: the key is missing",
      expected: issue.message,
      ...(typeof params?.hint === "string" ? { hint: params.hint } : didYouMean(meantChoice(issue, words))),
    },
  ];
}

function at({ line, column }: Position): Position {
  return { line, column };
}

function didYouMean(word: string | undefined): Pick<FileProblem, "hint"> {
  return word === undefined ? {} : { hint: `did you mean ${word}?` };
}

/** @returns which of several choices a mistyped one most likely meant */
function meantChoice(issue: Issue, words: SchemaWords): string | undefined {
  const forms = words.allowedForms(issue);
  const choices = issue.code === "invalid_value" ? issue.values.map(String) : forms.map(({ value }) => value);
  const given = forms[0] ? keyOf(issue.input, forms[0].discriminator) : issue.input;
  return choices.length > 1 && typeof given === "string" ? nearest(given, choices) : undefined;
}

/** @returns the form that is named under a mistyped key */
function formUnderMistypedKey(issue: Issue, words: SchemaWords, keys: readonly string[]): string | undefined {
  const forms = words.allowedForms(issue);
  const discriminators = forms.slice(0, 1).map(({ discriminator }) => discriminator);
  const mistyped = keys.find((key) => nearest(key, discriminators) !== undefined);
  const named = mistyped === undefined ? undefined : keyOf(issue.input, mistyped);
  return forms.find(({ value }) => value === named)?.value;
}

/** @returns the form whose keys a mapping has most of, where one stands out */
function likeliestForm(issue: Issue, words: SchemaWords, keys: readonly string[]): string | undefined {
  const [best, second] = words
    .allowedForms(issue)
    .map((form) => ({ value: form.value, shared: form.keys.filter((key) => keys.includes(key)).length }))
    .sort((a, b) => b.shared - a.shared);
  return best && best.shared > (second?.shared ?? 0) ? best.value : undefined;
}

/**
 * Reads mistyped keys and choices as what they most likely mean.
 * @param taken places where that was done before
 * @returns whether there was anything to do
 */
function takeForMeant(
  issues: readonly Issue[],
  source: YamlSource,
  words: SchemaWords,
  taken: Set<string>,
): boolean {
  const before = taken.size;
  for (const issue of issues) {
    if (issue.code === "unrecognized_keys") {
      for (const key of issue.keys) {
        const place = pathText([...issue.path, key]);
        const meant = nearest(key, words.allowedKeys(issue));
        if (meant === undefined || taken.has(place) || source.keysAt(issue.path).includes(meant)) continue;
        taken.add(place);
        source.readKeyAs(issue.path, key, meant);
      }
      continue;
    }
    const place = pathText(issue.path);
    const keys = source.keysAt(issue.path.slice(0, -1));
    const meant =
      meantChoice(issue, words) ??
      formUnderMistypedKey(issue, words, keys) ??
      likeliestForm(issue, words, keys);
    if (meant === undefined || taken.has(place)) continue;
    taken.add(place);
    source.readValueAs(issue.path, meant);
  }
  return taken.size > before;
}

function isAtOrIn(path: KeyPath, outer: KeyPath): boolean {
  return outer.every((segment, i) => String(path[i]) === String(segment));
}

/** @example pathText(["steps", 0, "settle"]) // "steps[0].settle" */
function pathText(path: KeyPath): string {
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
