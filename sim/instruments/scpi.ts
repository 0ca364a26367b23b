import { LINE_BAD_DAYS, LineInstrument } from "./line-instrument.ts";
import type { InstrumentOptions } from "./plugged-instrument.ts";

/** One thing it measures: the header's node in SCPI notation (short form in capitals), and the value it shows. */
export interface ScpiChannel {
  readonly node: string;
  readonly read: (t_s: number) => number;
}

export interface ScpiOptions extends InstrumentOptions {
  /** Second field of the identity. */
  readonly kind: string;
  readonly latency_s: number;
  readonly channels: readonly ScpiChannel[];
}

const NOT_A_NUMBER = "9.91E+37";
const OVER_RANGE = "9.9E+37";
const UNDEFINED_HEADER = '-113,"Undefined header"';
const NO_ERROR = '0,"No error"';
const QUEUE_LENGTH = 10;
const HEADERS_KEPT = 100;

type Meaning = "identity" | "clear" | "error" | "unknown" | ScpiChannel;

/**
 * An instrument asked in SCPI's syntax: `MEAS:SUCT?;FLOW?` -> `+1.20345E+04;+2.31245E+01`.
 * @see SCPI-99 volume 1, 6.2 (headers, paths), 7.2.1.4-5 (not a number, infinity), 21.8 (error queue); IEEE 488.2 for *IDN?, NR3
 */
export class ScpiInstrument extends LineInstrument {
  readonly badDays: readonly string[];
  readonly #options: ScpiOptions;
  readonly #shown = new Map<string, string>();
  readonly #errors: string[] = [];
  /** What the headers heard so far mean: they are few, and asked again and again. */
  readonly #meanings = new Map<string, Meaning>();

  constructor(options: ScpiOptions) {
    super(options, "\n");
    this.#options = options;
    const { channels } = options;
    this.badDays = [
      ...LINE_BAD_DAYS,
      "stuck",
      ...(channels.length > 1 ? channels.map(stuckDayOf) : []),
      "over_range",
      "not_a_number",
    ];
  }

  protected override receive(command: string): void {
    this.answerAfter(this.#options.latency_s, () => this.#answer(command));
  }

  /** All of the message's answers on one line, or null: one header it does not know spoils the message. */
  #answer(message: string): string | null {
    const answers: string[] = [];
    let path = "";
    for (const unit of message.split(";").map((part) => part.trim())) {
      const isAbsolute = unit.startsWith(":") || unit.startsWith("*");
      const header = isAbsolute ? unit.replace(/^:/, "") : path + unit;
      const answer = this.#query(header);
      if (answer === null) {
        if (this.#errors.length < QUEUE_LENGTH) this.#errors.push(UNDEFINED_HEADER);
        return null;
      }
      if (answer !== "") answers.push(answer);
      if (!unit.startsWith("*")) path = header.slice(0, header.lastIndexOf(":") + 1);
    }
    return answers.length > 0 ? answers.join(";") : null;
  }

  /** The answer to one header, "" for a command that has none, null for one it does not know. */
  #query(header: string): string | null {
    let meaning = this.#meanings.get(header);
    if (meaning === undefined) {
      meaning = this.#understand(header);
      if (this.#meanings.size < HEADERS_KEPT) this.#meanings.set(header, meaning);
    }
    switch (meaning) {
      case "identity":
        return this.#identity();
      case "clear":
        this.#errors.length = 0;
        return "";
      case "error":
        return this.#errors.shift() ?? NO_ERROR;
      case "unknown":
        return null;
      default:
        return this.#measure(meaning);
    }
  }

  #understand(header: string): Meaning {
    if (matches(header, ["*IDN?"])) return "identity";
    if (matches(header, ["*CLS"])) return "clear";
    if (matches(header, ["SYSTem", "ERRor?"]) || matches(header, ["SYSTem", "ERRor", "NEXT?"]))
      return "error";
    const { channels } = this.#options;
    return channels.find(({ node }) => matches(header, ["MEASure", `${node}?`])) ?? "unknown";
  }

  #identity(): string {
    const kind = this.badDay === "wrong_identity" ? "COUNTER" : this.#options.kind;
    return `DEMO WORKS,${kind},SN0001,1.0`;
  }

  #measure(channel: ScpiChannel): string {
    const { node, read } = channel;
    if (this.badDay === "not_a_number") return NOT_A_NUMBER;
    if (this.badDay === "over_range") return OVER_RANGE;
    const before = this.#shown.get(node);
    const isStuck = this.badDay === "stuck" || this.badDay === stuckDayOf(channel);
    if (isStuck && before !== undefined) return before;
    const shown = nr3(read(this.clock.now_s()));
    this.#shown.set(node, shown);
    return shown;
  }
}

/** The bad day on which one channel stands still while the others go on, such as `voltage_stuck`. */
function stuckDayOf({ node }: ScpiChannel): string {
  return `${node.toLowerCase()}_stuck`;
}

/** Decimal number with exponent as IEEE 488.2 NR3: `+1.20345E+04`. */
export function nr3(value: number): string {
  const [mantissa = "0", exponent = "+0"] = Math.abs(value).toExponential(5).split("e");
  const sign = value < 0 ? "-" : "+";
  return `${sign}${mantissa}E${exponent.slice(0, 1)}${exponent.slice(1).padStart(2, "0")}`;
}

/** Whether a header is this path, each node in its short or its long form, whatever the case. */
function matches(header: string, path: readonly string[]): boolean {
  const nodes = header.split(":");
  return (
    nodes.length === path.length &&
    path.every((form, i) => {
      const node = nodes[i]?.toUpperCase();
      const short = form.replace(/[a-z]/g, "");
      return node === short || node === form.toUpperCase();
    })
  );
}
