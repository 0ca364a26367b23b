import { LEAST_ROLE } from "../disposition-rules.ts";
import { mayActAs } from "../people/person.ts";
import type { Findings } from "./audit-finding.ts";
import type { Disposition } from "./disposition.ts";
import { followHolds, nothingHeld } from "./doubts.ts";
import type { Traveller } from "./traveller.ts";

const ACTS = { hold: "hold", accept: "release", rework: "rework", scrap: "scrap" } as const;

/** What is asked of a traveller once it is read, because of a decision about it. */
interface Question {
  readonly path: string;
  readonly disposition: Pick<Disposition, "kind" | "by">;
  /** A scrap of a unit that nobody held and no check put in doubt. */
  readonly isUnheldScrap: boolean;
}

/**
 * Holds decisions against the rules by which the program records them, see `whyNot` and `whoDecides`. In due form and in the
 * chain, one may still have been written past it. What two programs at the same moment can come to is no finding: a hold that is
 * lifted twice, a scrap beside a release.
 */
export class PermittedDecisions {
  readonly #findings: Findings;
  readonly #held = nothingHeld();
  readonly #reworked = new Set<string>();
  /** Travellers that a hold names, by its number; null for what is no hold. */
  readonly #holds = new Map<number, ReadonlySet<string> | null>();
  readonly #questions = new Map<string, Question[]>();

  constructor(findings: Findings) {
    this.#findings = findings;
  }

  /** @param disposition the next in the order of recording */
  decided(disposition: Disposition, path: string): void {
    const { kind, by, units, chain } = disposition;
    for (const problem of [roleProblem(disposition), this.#liftProblem(disposition)]) {
      if (problem !== null) this.#findings.add("not_allowed", path, problem);
    }
    const byHand = kind === "scrap" ? new Set([...this.#held.byHand.values()].map((it) => it.serial)) : null;
    for (const { serial, traveller } of units) {
      const isAgainst =
        byHand?.has(serial) || this.#held.untrusted.has(traveller) || this.#reworked.has(traveller);
      const isUnheldScrap = kind === "scrap" && !isAgainst;
      const isWord = kind !== "hold" && (by.sign_in === "off" || by.sign_in === "stated");
      if (isWord || isUnheldScrap) this.#ask(traveller, { path, disposition, isUnheldScrap });
      if (kind === "rework") this.#reworked.add(traveller);
    }
    followHolds(this.#held, disposition);
    const named = kind === "hold" ? new Set(units.map(({ traveller }) => traveller)) : null;
    this.#holds.set(chain.sequence, named);
  }

  /** A traveller as it was recorded. */
  tested({ serial, attempt, who, verdict }: Traveller, sha256: string): void {
    for (const { path, disposition, isUnheldScrap } of this.#questions.get(sha256) ?? []) {
      const { kind, by } = disposition;
      const isWord = by.sign_in === "off" || by.sign_in === "stated";
      if (kind !== "hold" && isWord && (who.sign_in === "badge" || who.sign_in === "pin")) {
        this.#findings.add(
          "not_allowed",
          path,
          `attempt ${attempt.number} of ${serial} was made where people sign in, and whoever decided on it has proven nothing`,
        );
      }
      if (isUnheldScrap && verdict === "pass") {
        this.#findings.note(
          `${path} scraps ${serial}, which had passed and was neither on hold nor in doubt: ask who did.`,
        );
      }
    }
    this.#questions.delete(sha256);
  }

  #ask(traveller: string, question: Question): void {
    const known = this.#questions.get(traveller);
    if (known) known.push(question);
    else this.#questions.set(traveller, [question]);
  }

  /** A number that is missing is told of as missing. */
  #liftProblem({ kind, lifts, units }: Disposition): string | null {
    if (kind !== "accept" || lifts === undefined) return null;
    const known = lifts.filter((number) => this.#holds.has(number));
    const noHold = known.find((number) => this.#holds.get(number) === null);
    if (noHold !== undefined) return `it lifts number ${noHold}, which is no hold`;
    if (known.length < lifts.length) return null;
    const stray = units.find(({ traveller }) => !known.some((it) => this.#holds.get(it)?.has(traveller)));
    return stray ? `none of the holds that it lifts is on attempt ${stray.attempt} of ${stray.serial}` : null;
  }
}

function roleProblem({ kind, by }: Disposition): string | null {
  const least = LEAST_ROLE[ACTS[kind]];
  if (by.role === undefined || mayActAs(by.role, least)) return null;
  return `${by.name ?? "somebody"} decided it as ${by.role}, and only a ${least} may`;
}
