import { createHash } from "node:crypto";
import { promisify } from "node:util";
import { createInflateRaw, deflateRaw } from "node:zlib";
import { z } from "zod";
import { PreparedFacts, StateAtStartShape, TapedFiles } from "./tape-contents.ts";
import type { TapeEvent } from "./tape-event.ts";
import { readTapeEvents, TapeDamaged } from "./tape-events-codec.ts";

/** What a tape's first line begins with; a reader that meets another one must not guess. */
const TAPE_FORMAT = "drumtight/tape/1";
const CHECKSUM_HEX = 64;
/** Nobody's tape is larger unpacked; a file that says so was made to fill the memory. */
const UNPACKED_MOST_BYTES = 512e6;

const deflated = promisify(deflateRaw);

/** The first line, for whoever looks into a tape with nothing but a pager. */
const TapeHeader = z.strictObject({
  format: z.literal(TAPE_FORMAT),
  serial: z.string(),
  attempt: z.int().positive(),
  verdict: z.enum(["pass", "fail", "void"]),
  ended_at: z.string().nullable(),
  software: z.string(),
});
type TapeHeader = z.infer<typeof TapeHeader>;

const TapeContents = z.strictObject({
  instruments: z.array(z.string()).readonly(),
  attempt: PreparedFacts,
  atStart: StateAtStartShape,
  files: TapedFiles,
  /** What the attempt came to, as its traveller has it. */
  traveller: z.record(z.string(), z.unknown()),
  sha256: z.string(),
  /** The end is missing: more came than a tape may hold. */
  isCut: z.boolean(),
});
export type TapeContents = z.infer<typeof TapeContents>;

/** A tape as it is kept: everything that is needed to play it back, the events not unpacked yet. */
export interface Tape extends TapeContents {
  readonly preamble: Buffer;
  readonly events: Buffer;
}

/** What could be read of a tape. */
export interface TapeFound {
  readonly header: TapeHeader | null;
  /** Null where not even what it is about can be read. */
  readonly contents: TapeContents | null;
  readonly preamble: readonly TapeEvent[];
  readonly events: readonly TapeEvent[];
  /** Why nothing on it may be trusted; null: it is as it was written. */
  readonly damage: string | null;
}

/** @returns the bytes of a tape's file: a line for people, the packed rest, a checksum over both */
export async function packTape(tape: Tape): Promise<Buffer> {
  const { preamble, events, ...contents } = tape;
  const header: TapeHeader = {
    format: TAPE_FORMAT,
    serial: contents.attempt.serial,
    attempt: contents.attempt.number,
    verdict: z.enum(["pass", "fail", "void"]).parse(contents.traveller.verdict),
    ended_at: z.string().nullable().parse(contents.traveller.ended_at),
    software: contents.files.software,
  };
  const text = Buffer.from(JSON.stringify(contents), "utf8");
  const body = await deflated(
    Buffer.concat([length(text), text, length(preamble), preamble, length(events), events]),
    { level: 6 },
  );
  const packed = Buffer.concat([Buffer.from(`${JSON.stringify(header)}\n`, "utf8"), body]);
  return Buffer.concat([packed, Buffer.from(`\n${sha256(packed)}\n`, "latin1")]);
}

/** Reads as much of a tape's file as there is; never throws for what is in it. */
export async function unpackTape(file: Buffer): Promise<TapeFound> {
  const found: { -readonly [K in keyof TapeFound]: TapeFound[K] } = {
    header: null,
    contents: null,
    preamble: [],
    events: [],
    damage: null,
  };
  const trailer = file.subarray(-(CHECKSUM_HEX + 2)).toString("latin1");
  const isWhole = /^\n[0-9a-f]{64}\n$/.test(trailer);
  const packed = isWhole ? file.subarray(0, -trailer.length) : file;
  if (!isWhole) found.damage = "its end is missing";
  else if (sha256(packed) !== trailer.trim()) found.damage = "it was changed after it was written";
  const lineEnd = packed.indexOf(0x0a);
  if (lineEnd < 0) return { ...found, damage: found.damage ?? "it is no tape" };
  found.header = headerOf(packed.subarray(0, lineEnd));
  if (!found.header) found.damage ??= "it is no tape of this program";
  const { bytes, isComplete } = await inflated(packed.subarray(lineEnd + 1));
  if (!isComplete) found.damage ??= "it can't be unpacked";
  try {
    const parts = new Parts(bytes);
    const contents = parts.next().toString("utf8");
    found.contents = TapeContents.parse(JSON.parse(contents));
    const { instruments } = found.contents;
    found.preamble = takeEvents(parts.next(), instruments);
    found.events = takeEvents(parts.next(), instruments);
  } catch (error) {
    if (error instanceof HalfRead) found.events = error.events;
    found.damage ??=
      error instanceof TapeDamaged || error instanceof HalfRead
        ? error.message
        : "what it is about can't be read";
  }
  return found;
}

class HalfRead extends Error {
  readonly events: readonly TapeEvent[];
  constructor(message: string, events: readonly TapeEvent[]) {
    super(message);
    this.name = "HalfRead";
    this.events = events;
  }
}

function takeEvents(bytes: Buffer, instruments: readonly string[]): readonly TapeEvent[] {
  const events: TapeEvent[] = [];
  try {
    for (const event of readTapeEvents(bytes, instruments)) events.push(event);
  } catch (error) {
    if (error instanceof TapeDamaged) throw new HalfRead(error.message, events);
    throw error;
  }
  return events;
}

function headerOf(line: Buffer): TapeHeader | null {
  try {
    return TapeHeader.parse(JSON.parse(line.toString("utf8")));
  } catch {
    return null;
  }
}

/** As far as it goes: a stream, since the functions that unpack at one go give nothing of what they got before an error. */
function inflated(body: Buffer): Promise<{ readonly bytes: Buffer; readonly isComplete: boolean }> {
  return new Promise((resolve) => {
    const inflate = createInflateRaw();
    const chunks: Buffer[] = [];
    let length_bytes = 0;
    const end = (isComplete: boolean) => resolve({ bytes: Buffer.concat(chunks), isComplete });
    inflate.on("data", (chunk: Buffer) => {
      chunks.push(chunk);
      length_bytes += chunk.length;
      if (length_bytes > UNPACKED_MOST_BYTES) inflate.destroy(new Error("too large"));
    });
    inflate.on("end", () => end(true));
    inflate.on("error", () => end(false));
    inflate.end(body);
  });
}

/** Parts with their lengths before them; the last may be cut. */
class Parts {
  readonly #bytes: Buffer;
  #at = 0;

  constructor(bytes: Buffer) {
    this.#bytes = bytes;
  }

  next(): Buffer {
    if (this.#at + 4 > this.#bytes.length) throw new TapeDamaged("its end is missing");
    const from = this.#at + 4;
    this.#at = from + this.#bytes.readUInt32LE(this.#at);
    return this.#bytes.subarray(from, this.#at);
  }
}

function length(part: Buffer): Buffer {
  const bytes = Buffer.alloc(4);
  bytes.writeUInt32LE(part.length);
  return bytes;
}

function sha256(bytes: Buffer): string {
  return createHash("sha256").update(bytes).digest("hex");
}
