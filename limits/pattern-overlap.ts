/** Labels are printed in these. */
const CHARACTERS = Array.from({ length: 0x7f - 0x20 }, (_, i) => String.fromCharCode(0x20 + i));
/** A pattern is short; two that need more than this are left to the engineer. */
const MOST_PAIRS = 200_000;

/** One of its characters (a bit each, of CHARACTERS) leads on; none of them: without any character. */
interface Edge {
  readonly to: number;
  readonly characters: bigint;
}

/**
 * A text that two patterns of `readPattern` both take: whoever scans it can't be told which of the two is meant.
 * @returns such a text of printable ASCII; null where there is none, or it can't be told
 * @example sharedText(/^G[0-9]{4}$/u, /^[A-Z]0{4}$/u) // "G0000"
 * @example sharedText(/^T[1-4]$/u, /^L[1-4]$/u) // null
 */
export function sharedText(one: RegExp, other: RegExp): string | null {
  const [a, b] = [automatonOf(one), automatonOf(other)];
  if (!a || !b) return null;
  const seen = new Set([`${a.start},${b.start}`]);
  const queue = [{ i: a.start, j: b.start, text: "" }];
  for (let next = 0; next < queue.length && queue.length < MOST_PAIRS; next++) {
    const { i, j, text } = queue[next] as (typeof queue)[number];
    if (i === a.end && j === b.end) return text;
    const add = (to: { i: number; j: number }, character: string) => {
      const key = `${to.i},${to.j}`;
      if (seen.has(key)) return;
      seen.add(key);
      queue.push({ ...to, text: text + character });
    };
    const [fromA, fromB] = [a.edges[i] ?? [], b.edges[j] ?? []];
    for (const { to, characters } of fromA) if (characters === 0n) add({ i: to, j }, "");
    for (const { to, characters } of fromB) if (characters === 0n) add({ i, j: to }, "");
    for (const edgeA of fromA) {
      for (const edgeB of fromB) {
        const both = edgeA.characters & edgeB.characters;
        if (both !== 0n) add({ i: edgeA.to, j: edgeB.to }, firstOf(both));
      }
    }
  }
  return null;
}

interface Automaton {
  readonly start: number;
  readonly end: number;
  readonly edges: readonly (readonly Edge[])[];
}

const TOKEN =
  /\\[pP]\{[^}]*\}|\\u\{[^}]*\}|\\u[0-9a-fA-F]{4}|\\x[0-9a-fA-F]{2}|\\[\s\S]|\[(?:\\[\s\S]|[^\]\\])*\]|\{[^}]*\}|\(\?:|[\s\S]/gu;

/** @returns the pattern as states and what leads from one to the next; null with what stands for no character */
function automatonOf(pattern: RegExp): Automaton | null {
  const tokens = pattern.source.slice(1, -1).match(TOKEN) ?? [];
  if (tokens.some((token) => token === "\\b" || token === "\\B")) return null;
  const edges: Edge[][] = [];
  let at = 0;
  const newState = () => edges.push([]) - 1;
  const join = (from: number, to: number, characters = 0n) => edges[from]?.push({ to, characters });

  const alternatives = (from: number): number => {
    const end = newState();
    for (;;) {
      const start = newState();
      join(from, start);
      join(sequence(start), end);
      if (tokens[at] !== "|") return end;
      at++;
    }
  };
  const sequence = (from: number): number => {
    let state = from;
    while (at < tokens.length && tokens[at] !== ")" && tokens[at] !== "|") state = repeated(state);
    return state;
  };
  const repeated = (from: number): number => {
    const token = tokens[at++] ?? "";
    if (token === "(" || token === "(?:") {
      const end = alternatives(from);
      at++; // the closing one
      if (repeats().least === 0) join(from, end);
      return end;
    }
    const characters = charactersOf(token);
    const { least, most } = repeats();
    const end = newState();
    let state = from;
    for (let k = 0; k <= most; k++) {
      if (k >= least) join(state, end);
      if (k === most) break;
      const next = newState();
      if (characters !== 0n) join(state, next, characters);
      state = next;
    }
    return end;
  };
  /** How often what came before is repeated; greedy or not makes no difference to what is taken. */
  const repeats = (): { least: number; most: number } => {
    const counts = /^\{(\d+)(,)?(\d*)\}$/.exec(tokens[at] ?? "");
    const isOptional = tokens[at] === "?";
    if (!counts && !isOptional) return { least: 1, most: 1 };
    at++;
    if (tokens[at] === "?") at++;
    if (!counts) return { least: 0, most: 1 };
    const least = Number(counts[1]);
    return { least, most: counts[2] ? Number(counts[3]) : least };
  };

  const start = newState();
  const end = alternatives(start);
  return { start, end, edges };
}

/** The characters that one token takes, a bit each. */
function charactersOf(token: string): bigint {
  const takes = new RegExp(`^${token}$`, "u");
  return CHARACTERS.reduce(
    (bits, character, i) => (takes.test(character) ? bits | (1n << BigInt(i)) : bits),
    0n,
  );
}

function firstOf(characters: bigint): string {
  return CHARACTERS.find((_, i) => (characters >> BigInt(i)) & 1n) ?? "";
}
