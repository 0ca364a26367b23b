import { type InstrumentOptions, PluggedInstrument } from "./plugged-instrument.ts";

/** Bad days of the cable and the line, the same for every instrument. */
export const LINE_BAD_DAYS = [
  "silent",
  "half_line",
  "glued",
  "garbage",
  "wrong_encoding",
  "parity_bit",
  "over_long",
  "late",
  "unplugged",
  "replugged",
  "wrong_identity",
] as const;

/** How much later than usual everything comes on a `late` day. */
const LATE_s = 3;
/** More than any profile takes for a line. */
const OVER_LONG = 2000;
const LONGEST_COMMAND = 500;

/** Lines in, lines out, and the bad days of the line; what they mean is the subclass's. */
export abstract class LineInstrument extends PluggedInstrument {
  readonly #terminator: string;
  #received = "";
  #lastLine = "";

  constructor(options: InstrumentOptions, terminator: string) {
    super(options);
    this.#terminator = terminator;
  }

  /** One command without its terminator. */
  protected abstract receive(command: string): void;

  /** Sends a line, made when it goes out, to whoever is plugged in now; null sends nothing. */
  protected answerAfter(latency_s: number, line: () => string | null): void {
    const far = this.far;
    this.clock.setTimeout(() => {
      if (far === null || this.far !== far) return;
      const text = line();
      if (text !== null) this.sendLine(text);
    }, latency_s * 1000);
  }

  /** Puts a line on the cable, as far as the day allows. */
  protected sendLine(line: string): void {
    const far = this.far;
    const before = this.#lastLine || line;
    this.#lastLine = line;
    if (!far) return;
    switch (this.badDay) {
      case "silent":
        return;
      case "half_line":
        far.send(line.slice(0, Math.ceil(line.length / 2)));
        return;
      case "glued":
        far.send(before + line + this.#terminator);
        return;
      case "garbage":
        far.send(this.#garbageLike(line) + this.#terminator);
        return;
      case "wrong_encoding":
        far.send(utf16(line + this.#terminator));
        return;
      case "parity_bit":
        far.send(withParityBit(line + this.#terminator));
        return;
      case "over_long":
        far.send(line.padEnd(OVER_LONG, "0") + this.#terminator);
        return;
      case "late":
        this.clock.setTimeout(() => {
          if (this.far === far) far.send(line + this.#terminator);
        }, LATE_s * 1000);
        return;
      default:
        far.send(line + this.#terminator);
    }
  }

  protected override plugged(): void {
    this.#received = "";
  }

  protected override take(bytes: string): void {
    this.#received += bytes;
    for (let end = this.#received.indexOf("\n"); end >= 0; end = this.#received.indexOf("\n")) {
      const command = this.#received.slice(0, end).replace(/\r$/, "");
      this.#received = this.#received.slice(end + 1);
      if (command.trim() !== "") this.receive(command.trim());
    }
    if (this.#received.length > LONGEST_COMMAND) this.#received = "";
  }

  /** Bytes as a wrong baud rate gives them: as many, none of them a line end. */
  #garbageLike(line: string): string {
    let bytes = "";
    for (let i = 0; i < line.length; i++)
      bytes += String.fromCharCode(0x80 + Math.floor(this.random.between(0, 0x80)));
    return bytes;
  }
}

/** Two bytes for each character, low one first. */
function utf16(text: string): string {
  return Buffer.from(text, "utf16le").toString("latin1");
}

/** Seven data bits and even parity, as eight data bits read them. */
function withParityBit(text: string): string {
  return [...text]
    .map((character) => {
      const bits = character.charCodeAt(0) & 0x7f;
      const isOdd = bits.toString(2).replaceAll("0", "").length % 2 === 1;
      return String.fromCharCode(isOdd ? bits | 0x80 : bits);
    })
    .join("");
}
