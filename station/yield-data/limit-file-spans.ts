import type { StoredForm } from "../records/stored-values.ts";
import type { Piece } from "./asked-pieces.ts";

/** A piece of time, and which of one limit file's forms tests had in it. */
export interface FormsAmong {
  readonly among: Piece;
  readonly forms: ReadonlySet<number>;
}

/** What one limit file judged. */
export interface LimitFileSpan {
  /** One of its forms: all have the model and the file. */
  readonly form: StoredForm;
  readonly tests: number;
  /** The first and the last piece of time that have tests of it. */
  readonly first: FormsAmong;
  readonly last: FormsAmong;
}

interface SpanSoFar {
  readonly form: StoredForm;
  tests: number;
  first: { readonly among: Piece; readonly forms: Set<number> };
  last: { readonly among: Piece; readonly forms: Set<number> };
}

/**
 * In which pieces of time each limit file began and ended to judge: there its first and last test are looked for, which takes less
 * than to ask for the first and last of every group.
 */
export class LimitFileSpans {
  readonly #files = new Map<string, SpanSoFar>();
  readonly #ofForms = new Map<number, SpanSoFar>();

  /** Tests of one form that ended in one piece of time, in any order. */
  add(number: number, form: StoredForm, tests: number, among: Piece): void {
    const span = this.#ofForms.get(number) ?? this.#ofFile(form, among);
    this.#ofForms.set(number, span);
    span.tests += tests;
    if (among.from < span.first.among.from) span.first = { among, forms: new Set() };
    if (among.from > span.last.among.from) span.last = { among, forms: new Set() };
    if (among.from === span.first.among.from) span.first.forms.add(number);
    if (among.from === span.last.among.from) span.last.forms.add(number);
  }

  all(): Iterable<LimitFileSpan> {
    return this.#files.values();
  }

  #ofFile(form: StoredForm, among: Piece): SpanSoFar {
    const key = JSON.stringify([form.model, form.limitFile]);
    const known = this.#files.get(key);
    if (known) return known;
    const span = {
      form,
      tests: 0,
      first: { among, forms: new Set<number>() },
      last: { among, forms: new Set<number>() },
    };
    this.#files.set(key, span);
    return span;
  }
}
