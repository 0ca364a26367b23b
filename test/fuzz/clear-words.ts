import type { FileProblem } from "../../limits/checked-yaml.ts";
import { describeProblem } from "../../limits/checked-yaml.ts";

/** What a terminal might obey, and what would end or turn a line of a log. */
const OBEYED = /[\p{Cc}\p{Cs}\u202a-\u202e\u2066-\u2069\u2028\u2029]/u;
const STACK = /\n\s+at |node:internal|\.[cm]?[jt]s:\d+:\d+\)/;
const LONGEST_SENTENCE = 1200;

/** Something the program must not do, whatever it is given. */
export class Misbehaved extends Error {}

export function require(holds: boolean, what: string): asserts holds {
  if (!holds) throw new Misbehaved(what);
}

/** One sentence for people: something, not too much, nothing that a terminal would obey, and no stack. */
export function requireSentence(text: string, longest = LONGEST_SENTENCE): void {
  require(text.trim() !== "", "says nothing");
  require(text.length <= longest, `says ${text.length} characters: ${text.slice(0, 200)}`);
  require(!OBEYED.test(text), `says what a terminal obeys: ${JSON.stringify(text).slice(0, 400)}`);
  require(!STACK.test(text), `shows its insides: ${text.slice(0, 400)}`);
}

/** @returns the error, which must be one of the kinds its reader declares */
export function requireDeclared<T extends Error>(
  error: unknown,
  ...kinds: readonly (abstract new (
    ...args: never[]
  ) => T)[]
): T {
  for (const kind of kinds) if (error instanceof kind) return error;
  const shown = error instanceof Error ? `${error.name}: ${error.message}\n${error.stack}` : String(error);
  throw new Misbehaved(`threw what it does not declare: ${shown}`);
}

const MOST_PROBLEMS = 2000;

/** Problems of a file: at least one, each in its place in the text, each a sentence. */
export function requireProblems(problems: readonly FileProblem[], text: string): void {
  require(problems.length > 0, "refuses without a reason");
  require(problems.length <= MOST_PROBLEMS, `finds ${problems.length} problems`);
  const lines = text.split("\n").length;
  for (const problem of problems) {
    const { line, column } = problem;
    require(Number.isInteger(line) && line >= 1 && line <= lines, `line ${line} of ${lines}`);
    require(Number.isInteger(column) && column >= 1 && column <= text.length + 1, `column ${column}`);
    requireSentence(describeProblem(problem));
  }
}
