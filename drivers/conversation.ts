import { printable } from "./raw-line.ts";

/** One line between the station and an instrument, as it is shown to people. */
export interface SpokenLine {
  /** Monotonic time of the clock the driver was given. */
  readonly t_s: number;
  readonly direction: "sent" | "heard";
  /** Without its line ending, unprintable bytes escaped; in parentheses where the cable itself is meant. */
  readonly text: string;
}

const KEPT = 20;

const HEARD = 0;
const SENT = 1;
const NOTED = 2;

/**
 * The last lines between the station and one instrument, whichever connection they went over. It stays when a
 * connection ends, so that what was said before a fault can be read after it. Keeping a line costs two stores and
 * nothing is made: a gauge may send a thousand a second.
 */
export class Conversation {
  readonly #t_s = new Float64Array(KEPT);
  readonly #kind = new Uint8Array(KEPT);
  readonly #raw: string[] = new Array<string>(KEPT).fill("");
  readonly #show: (raw: string, direction: "sent" | "heard") => string;
  #count = 0;
  #beforeFault: readonly SpokenLine[] = [];

  /** @param show how a line is shown to people, where it is no text */
  constructor(show: (raw: string, direction: "sent" | "heard") => string = printable) {
    this.#show = show;
  }

  sent(raw: string, t_s: number): void {
    this.#keep(raw, t_s, SENT);
  }

  heard(raw: string, t_s: number): void {
    this.#keep(raw, t_s, HEARD);
  }

  /** What happened to the cable or to a line, such as "cable closed". */
  noted(what: string, t_s: number): void {
    this.#keep(`(${what})`, t_s, NOTED);
  }

  /** Sets the lines up to here aside: a stream that begins anew after the fault soon pushes them out. */
  faulted(): void {
    this.#beforeFault = this.lines();
  }

  /** The last 20 lines, oldest first. */
  lines(): readonly SpokenLine[] {
    const first = Math.max(0, this.#count - KEPT);
    return Array.from({ length: this.#count - first }, (_, i) => {
      const at = (first + i) % KEPT;
      const raw = this.#raw[at] ?? "";
      const direction = this.#kind[at] === SENT ? "sent" : "heard";
      const text = this.#kind[at] === NOTED ? printable(raw) : this.#show(raw, direction);
      return { t_s: this.#t_s[at] ?? 0, direction, text };
    });
  }

  /** The last 20 lines up to the newest fault, oldest first; none where there was no fault. */
  linesBeforeFault(): readonly SpokenLine[] {
    return this.#beforeFault;
  }

  #keep(raw: string, t_s: number, kind: number): void {
    const at = this.#count % KEPT;
    this.#raw[at] = raw;
    this.#t_s[at] = t_s;
    this.#kind[at] = kind;
    this.#count++;
  }
}
