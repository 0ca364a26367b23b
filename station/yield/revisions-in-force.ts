import type { RevisionInForce } from "./yield-report.ts";

/** Which limit files judged tests, from when to when; by model, revision and first test. */
export class RevisionsInForce {
  readonly #files = new Map<string, RevisionInForce>();

  add(tests: RevisionInForce): void {
    const key = JSON.stringify([tests.model, tests.revision, tests.sha256]);
    const known = this.#files.get(key);
    this.#files.set(key, known ? together(known, tests) : tests);
  }

  /** Two files of one number stand beside each other: somebody changed limits without raising the revision. */
  figures(): readonly RevisionInForce[] {
    return [...this.#files.values()].sort(
      (a, b) =>
        compared(a.model, b.model) ||
        a.revision - b.revision ||
        compared(a.first_at, b.first_at) ||
        compared(a.sha256, b.sha256),
    );
  }
}

function together(a: RevisionInForce, b: RevisionInForce): RevisionInForce {
  // UTC texts of one form sort by time.
  const [first_at = a.first_at] = [a.first_at, b.first_at].sort();
  const [last_at = a.last_at] = [a.last_at, b.last_at].sort().reverse();
  return { ...a, first_at, last_at, tests: a.tests + b.tests };
}

function compared(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
