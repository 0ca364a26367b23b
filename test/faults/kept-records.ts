import { sha256Hex } from "../../station/records/chain.ts";
import type { Disposition } from "../../station/records/disposition.ts";
import type { Traveller } from "../../station/records/traveller.ts";

/** A record as its file has it. */
export interface Kept<T> {
  readonly path: string;
  readonly text: string;
  readonly sha256: string;
  readonly content: T;
}

export interface KeptRecords {
  readonly travellers: readonly Kept<Traveller>[];
  readonly dispositions: readonly Kept<Disposition>[];
  readonly events: readonly Kept<{ readonly event: string }>[];
  /** Open attempts that have no traveller. */
  readonly open: readonly string[];
}

interface NamedText {
  readonly path: string;
  readonly text: string;
}

const TRAVELLER = /^\d{4}\/\d{2}\/\d{2}\/\d{8}-.*\.json$/;
const DISPOSITION = /^dispositions\/\d{8}\.json$/;
const EVENT = /^events\/\d{8}\.json$/;
const OPEN = /^\.open\/.*\.json$/;

/** Reads a records folder's files without the station's own reader; what it has read before it knows by its text. */
export class RecordFiles {
  readonly #known = new Map<string, Kept<unknown>>();

  /** @throws RecordUnreadable */
  read(files: readonly NamedText[]): KeptRecords {
    const those = <T>(pattern: RegExp): Kept<T>[] =>
      files.filter(({ path }) => pattern.test(path)).map((file) => this.#kept(file) as Kept<T>);
    const inOrder = <T extends { readonly chain: { readonly sequence: number } }>(
      kept: Kept<T>[],
    ): Kept<T>[] => kept.sort((a, b) => a.content.chain.sequence - b.content.chain.sequence);
    return {
      travellers: inOrder(those<Traveller>(TRAVELLER)),
      dispositions: inOrder(those<Disposition>(DISPOSITION)),
      events: those(EVENT),
      open: files.flatMap(({ path }) => (OPEN.test(path) ? [path] : [])),
    };
  }

  #kept({ path, text }: NamedText): Kept<unknown> {
    const known = this.#known.get(path);
    if (known?.text === text) return known;
    const kept = { path, text, sha256: sha256Hex(text), content: contentOf(path, text) };
    this.#known.set(path, kept);
    return kept;
  }
}

/** A record's file that is no JSON. */
export class RecordUnreadable extends Error {}

function contentOf(path: string, text: string): unknown {
  try {
    return JSON.parse(text) as unknown;
  } catch (cause) {
    throw new RecordUnreadable(`${path} is no JSON: ${JSON.stringify(text.slice(0, 40))}`, { cause });
  }
}
