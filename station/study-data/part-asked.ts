import { UsageError } from "../explain.ts";

/**
 * Finds a tracked part by the name that the limit file gives it, or by its last word where only one part has it: `gasket_lot`
 * may be called "lot", and a cavity "cavity" while units have one. Which parts there are shows as units are met.
 */
export class PartAsked {
  readonly #asked: string;
  /** By name of a part: whether it is meant. */
  readonly #known = new Map<string, boolean>();
  readonly #meant = new Set<string>();
  #exact: string | null = null;
  #wasGuessed = false;

  constructor(asked: string) {
    this.#asked = plain(asked);
  }

  /** The limit file's name of the part, as far as one was met; else as asked. */
  get name(): string {
    return this.#exact ?? [...this.#meant][0] ?? this.#asked;
  }

  /** Tracked parts met so far. */
  get known(): readonly string[] {
    return [...this.#known.keys()].sort();
  }

  /**
   * @returns what the unit has for it; undefined where it has none
   * @throws UsageError where two tracked parts may be meant
   * @example new PartAsked("lot").of({ gasket_lot: "G0417", tub_cavity: "T2" }) // "G0417"
   */
  of(parts: Readonly<Record<string, string>>): string | undefined {
    for (const name of Object.keys(parts)) if (!this.#known.has(name)) this.#meet(name);
    if (this.#exact !== null) return parts[this.#exact];
    const [name] = this.#meant;
    if (name === undefined) return undefined;
    this.#wasGuessed = true;
    return parts[name];
  }

  #meet(name: string): void {
    const own = plain(name);
    if (own === this.#asked) this.#exact = name;
    const isMeant = own === this.#asked || own.endsWith(`_${this.#asked}`);
    this.#known.set(name, isMeant);
    if (isMeant) this.#meant.add(name);
    // Of units before, the other one was taken.
    if (this.#meant.size > 1 && (this.#exact === null || this.#wasGuessed)) {
      const names = [...this.#meant].sort();
      throw new UsageError(
        `"${this.#asked}" may be ${names.slice(0, -1).join(", ")} or ${names.at(-1)}: say which.`,
      );
    }
  }
}

function plain(name: string): string {
  return name
    .trim()
    .toLowerCase()
    .replaceAll(/[\s-]+/g, "_");
}
