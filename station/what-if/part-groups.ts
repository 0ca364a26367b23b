/** More different numbers of a part than this are serial numbers, and no groups. */
const GROUPS_MOST = 200;
/** Units to a number on average; with fewer it groups nothing. */
const UNITS_LEAST = 2;

interface PartGroup<T> {
  readonly name: string;
  /** How the part begins in the text of an attempt's parts. */
  readonly opening: string;
  /** By number; null once there are too many. */
  groups: Map<string, T> | null;
}

/**
 * Puts units into groups by the numbers of their tracked parts, a million times over: texts of parts are mostly alike, so that
 * a part is found where the one before it had led to, and of a part with serial numbers nothing is taken out any more.
 */
export class PartGroups<T> {
  readonly #create: () => T;
  /** In the order in which they were met. */
  readonly #parts: PartGroup<T>[] = [];

  constructor(create: () => T) {
    this.#create = create;
  }

  /**
   * @param text canonical JSON of part names and numbers, like '{"lid_cavity":"Q1","tub_cavity":"P2"}'
   * @param met called with the group of each number
   */
  add(text: string, met: (group: T) => void): void {
    // Only a backslash makes it more than quoted words.
    if (text.includes("\\")) {
      for (const [name, number] of Object.entries(JSON.parse(text) as Record<string, string>)) {
        this.#count(this.#part(name), number, met);
      }
      return;
    }
    for (let at = 1, k = 0; at < text.length - 1; k++) {
      const part = this.#partAt(text, at, k);
      const begin = at + part.opening.length;
      const end = text.indexOf('"', begin);
      if (part.groups) this.#count(part, text.slice(begin, end), met);
      at = end + 2;
    }
  }

  #partAt(text: string, at: number, k: number): PartGroup<T> {
    const usual = this.#parts[k];
    if (usual && text.startsWith(usual.opening, at)) return usual;
    return this.#part(text.slice(at + 1, text.indexOf('"', at + 1)));
  }

  #part(name: string): PartGroup<T> {
    const known = this.#parts.find((part) => part.name === name);
    if (known) return known;
    const part = { name, opening: `"${name}":"`, groups: new Map() };
    this.#parts.push(part);
    return part;
  }

  #count(part: PartGroup<T>, number: string, met: (group: T) => void): void {
    const { groups } = part;
    if (!groups) return;
    let group = groups.get(number);
    if (group === undefined) {
      if (groups.size >= GROUPS_MOST) {
        part.groups = null;
        return;
      }
      group = this.#create();
      groups.set(number, group);
    }
    met(group);
  }

  /**
   * @param units that were put into groups
   * @returns groups by part and number; null for a part whose numbers are serial numbers: too many, or one to a unit nearly
   */
  result(units: number): Map<string, ReadonlyMap<string, T> | null> {
    return new Map(
      this.#parts.map(({ name, groups }) => {
        const isSerial = groups === null || (groups.size > 1 && groups.size > units / UNITS_LEAST);
        return [name, isSerial ? null : groups];
      }),
    );
  }
}
