import type { ByteTransport, Clock, DriverError } from "../../drivers/ports.ts";
import type { SerialSettings } from "../../drivers/transports/serial-settings.ts";
import { type HeardBytes, type Legibility, legibilityOf } from "./heard-bytes.ts";
import { isSaid, splitLines } from "./heard-lines.ts";
import { Listening } from "./listening.ts";
import { settingsText } from "./port-settings.ts";
import type { Question } from "./questions.ts";

/** A port that can be opened again and again. */
export interface ProbePort {
  /** Serial ports have settings; at a device server they are its own. */
  readonly isSerial: boolean;
  open(settings: SerialSettings): Promise<ByteTransport>;
}

export interface ProbeOptions {
  readonly port: ProbePort;
  readonly clock: Clock;
  readonly signal: AbortSignal;
  /** To be tried, in this order; of another port than a serial one the first only. */
  readonly settings: readonly SerialSettings[];
  /** Empty: it only listens. */
  readonly questions: readonly Question[];
  /** The engineer's own, each with several line ends: the first that is answered counts. */
  readonly given: readonly (readonly Question[])[];
  /** What sets a stream going, by the manual. */
  readonly start: readonly Question[];
  readonly listen_s: number;
  readonly saw: (event: ProbeEvent) => void;
}

export type ProbeEvent =
  | { readonly kind: "trying"; readonly settings: SerialSettings }
  | { readonly kind: "sent"; readonly bytes: Buffer; readonly at_s: number }
  | { readonly kind: "heard"; readonly bytes: Buffer; readonly at_s: number }
  | { readonly kind: "judged"; readonly settings: SerialSettings; readonly as: Legibility };

export interface Answer {
  readonly question: Question;
  readonly heard: readonly HeardBytes[];
  /** From the question to the last byte of the first line. */
  readonly took_s: number;
}

/** What was found at settings under which the instrument's words can be read. */
export interface ProbeFinding {
  readonly settings: SerialSettings;
  /** What came without being asked for. */
  readonly unasked: readonly HeardBytes[];
  readonly answers: readonly Answer[];
  /** What was sent to set it going, where it then began to talk. */
  readonly start: Question | null;
}

export interface ProbeResult {
  readonly finding: ProbeFinding | null;
  /** Settings under which something came that could not be read. */
  readonly garbledAt: readonly SerialSettings[];
  /** The last thing that could not be read, and what it looked like. */
  readonly garbled: { readonly bytes: Buffer; readonly as: Legibility } | null;
  readonly lost: DriverError | null;
}

const ANSWER_WITHIN_s = 0.4;
/** A port that was closed just now may go away once more. */
const LOST_AGAIN = 3;
const QUIET_s = 0.06;
const CLOSED_WITHIN_s = 0.15;
const START_WITHIN_s = 1.5;

/**
 * Tries port settings until what the instrument says can be read: it listens first, and then asks. Nothing is sent but
 * the questions it was given.
 * @throws DriverError PORT_MISSING, PORT_BUSY where the port cannot be opened at all
 */
export async function probe(options: ProbeOptions): Promise<ProbeResult> {
  const garbledAt: SerialSettings[] = [];
  let garbled: ProbeResult["garbled"] = null;
  let isTalking = false;
  const queue = options.port.isSerial ? [...options.settings] : options.settings.slice(0, 1);
  const tried = new Set<string>();
  let again = 0;
  let wasOpen = false;
  let complaint: ProbeFinding | null = null;
  for (let next = queue.shift(); next && !options.signal.aborted; next = queue.shift()) {
    const settings = next;
    const key = settingsText(settings);
    if (tried.has(key)) continue;
    if (wasOpen && options.port.isSerial) await untilClosed(options.clock);
    if (options.signal.aborted) break;
    wasOpen = true;
    tried.add(key);
    options.saw({ kind: "trying", settings });
    const listening = await Listening.open(await options.port.open(settings), {
      clock: options.clock,
      signal: options.signal,
      passed: (kind, { bytes, at_s }) => options.saw({ kind, bytes, at_s }),
    });
    try {
      const finding = await tryOne(listening, settings, options, isTalking);
      const all = Buffer.concat(listening.heard.map(({ bytes }) => bytes));
      const as = legibilityOf(all);
      options.saw({ kind: "judged", settings, as });
      if (finding !== "talks" && finding && isSaid(listening.heard)) {
        if (!onlyComplains(finding)) return { finding, garbledAt, garbled, lost: listening.lost };
        if (!complaint) queue.splice(0, queue.length, ...withParity(settings));
        complaint ??= finding;
        continue;
      }
      if (listening.lost && all.length === 0 && again++ < LOST_AGAIN) {
        tried.delete(key);
        queue.unshift(settings);
        continue;
      }
      again = 0;
      if (listening.lost) return { finding: null, garbledAt, garbled, lost: listening.lost };
      if (as.kind !== "nothing") {
        garbledAt.push(settings);
        garbled = { bytes: all, as };
        // It came by itself: at the right settings it will, too, and need not be asked.
        isTalking ||= finding === "talks";
      }
      if (as.kind === "parity") queue.unshift({ ...settings, dataBits: 7, parity: as.parity });
    } finally {
      await listening.close();
    }
  }
  return { finding: complaint, garbledAt, garbled, lost: null };
}

/** What is closed and opened again at once may not be closed at the other end: it would go on with the settings it had. */
function untilClosed(clock: Clock): Promise<void> {
  return new Promise((done) => {
    clock.setTimeout(() => done(), CLOSED_WITHIN_s * 1000);
  });
}

/** Text of seven bits with parity that happens to need no eighth one: "ERR 2" with odd parity. What it was asked was garbled. */
function onlyComplains({ unasked, answers }: ProbeFinding): boolean {
  return unasked.length === 0 && new Set(answers.map(({ heard }) => firstLine(heard))).size < 2;
}

function withParity(settings: SerialSettings): SerialSettings[] {
  if (settings.dataBits === 7) return [];
  return (["even", "odd"] as const).map((parity) => ({ ...settings, dataBits: 7, parity }));
}

/** @returns what was found, if anything came; "talks" where something came by itself that can't be read */
async function tryOne(
  listening: Listening,
  settings: SerialSettings,
  options: ProbeOptions,
  isTalking: boolean,
): Promise<ProbeFinding | "talks" | null> {
  await listening.during(options.listen_s);
  if (listening.isOver && listening.heard.length === 0) return null;
  const unasked = [...listening.heard];
  const came = legibilityOf(Buffer.concat(unasked.map(({ bytes }) => bytes)));
  if (came.kind !== "nothing" && came.kind !== "text") return "talks";
  if (isTalking && came.kind === "nothing") return null;
  const answers: Answer[] = [];
  // One that talks by itself gives its readings unasked.
  const own = (question: Question): boolean =>
    question.purpose !== "reading" ||
    (unasked.length === 0 &&
      (answers.length > 0 ||
        !options.port.isSerial ||
        question.profiles.some(({ port }) => settingsText(port) === settingsText(settings))));
  let before: Question | null = null;
  for (const question of options.questions) {
    if (listening.isOver) break;
    if (!own(question)) continue;
    if (before && (before.end === "CR") !== (question.end === "CR")) await endLine(listening, question.end);
    await ask(listening, question, options.clock, answers);
    before = question;
  }
  // With the line end that it uses itself first: what is left over of another spoils the next command.
  const { end } = splitLines(listening.heard, false);
  const inOrder = (variants: readonly Question[]) => [
    ...variants.filter((question) => question.end === end),
    ...variants.filter((question) => question.end !== end),
  ];
  for (const variants of options.given) {
    const ordered = inOrder(variants);
    // Once more at the end: rubbish left over from a question before spoils the first.
    for (const question of [...ordered, ...ordered.slice(0, 1)]) {
      if (listening.isOver || (await ask(listening, question, options.clock, answers))) break;
    }
  }
  const start = unasked.length === 0 ? await setGoing(listening, inOrder(options.start)) : null;
  return { settings, unasked: start ? start.heard : unasked, answers, start: start?.question ?? null };
}

/** An empty line: what was sent with another line end may still wait for its own, and would spoil the next question. */
async function endLine(listening: Listening, end: Question["end"]): Promise<void> {
  listening.send(Buffer.from(end === "CR" ? "\r" : "\n"));
  await listening.untilQuiet(QUIET_s, 2 * QUIET_s);
}

/** @returns whether something came that can be read and is not said to other questions, too */
async function ask(
  listening: Listening,
  question: Question,
  clock: Clock,
  answers: Answer[],
): Promise<boolean> {
  const from = listening.heard.length;
  const asked_s = clock.now_s();
  listening.send(question.bytes);
  const heard = () => listening.heard.slice(from);
  const isWhole = () => splitLines(heard(), false).lines.length > 0;
  await listening.until(isWhole, ANSWER_WITHIN_s);
  const took_s = (listening.heard.at(-1)?.at_s ?? asked_s) - asked_s;
  await listening.untilQuiet(QUIET_s, 2 * QUIET_s);
  const came = heard();
  if (came.length === 0) return false;
  const known = answers.filter((answer) => answer.question.text !== question.text);
  answers.push({ question, heard: came, took_s });
  if (legibilityOf(Buffer.concat(came.map(({ bytes }) => bytes))).kind !== "text") return false;
  // What is said to every question is a complaint.
  return !known.some((answer) => firstLine(answer.heard) === firstLine(came));
}

function firstLine(heard: readonly HeardBytes[]): string {
  return splitLines(heard, false).lines[0]?.text ?? "";
}

async function setGoing(
  listening: Listening,
  start: readonly Question[],
): Promise<{ question: Question; heard: HeardBytes[] } | null> {
  for (const question of [...start, ...start.slice(0, 1)]) {
    const from = listening.heard.length;
    listening.send(question.bytes);
    const heard = () => listening.heard.slice(from);
    // A stream is more than an answer.
    if (await listening.until(() => splitLines(heard(), false).lines.length > 2, START_WITHIN_s))
      return { question, heard: heard() };
  }
  return null;
}
