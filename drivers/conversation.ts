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

/**
 * The last lines between the station and one instrument, whichever connection they went over. It stays when a
 * connection ends, so that what was said before a fault can be read after it. Keeping a line costs two stores and
 * nothing is made: a gauge may send a thousand a second.
 */
export class Conversation {
  readonly #t_s = new Float64Array(KEPT);
  readonly #isSent = new Uint8Array(KEPT);
  readonly #raw: string[] = new Array<string>(KEPT).fill("");
  #count = 0;
  #beforeFault: readonly SpokenLine[] = [];

  sent(raw: string, t_s: number): void {
    this.#keep(raw, t_s, 1);
  }

  heard(raw: string, t_s: number): void {
    this.#keep(raw, t_s, 0);
  }

  /** What happened to the cable or to a line, such as "cable closed". */
  noted(what: string, t_s: number): void {
    this.#keep(`(${what})`, t_s, 0);
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
      return {
        t_s: this.#t_s[at] ?? 0,
        direction: this.#isSent[at] === 1 ? "sent" : "heard",
        text: printable(this.#raw[at] ?? ""),
      };
    });
  }

  /** The last 20 lines up to the newest fault, oldest first; none where there was no fault. */
  linesBeforeFault(): readonly SpokenLine[] {
    return this.#beforeFault;
  }

  #keep(raw: string, t_s: number, isSent: 0 | 1): void {
    const at = this.#count % KEPT;
    this.#raw[at] = raw;
    this.#t_s[at] = t_s;
    this.#isSent[at] = isSent;
    this.#count++;
  }
}
