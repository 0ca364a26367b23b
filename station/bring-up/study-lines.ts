import { checkLine, type LineChecksum } from "../../drivers/checksum.ts";
import type { SerialSettings } from "../../drivers/transports/serial-settings.ts";
import { type DraftFacts, draftProfile, type NamedChannel } from "./draft-profile.ts";
import { endsInDigits, findChecksum } from "./find-checksum.ts";
import type { HeardBytes } from "./heard-bytes.ts";
import { type HeardLine, type LineEnd, splitLines } from "./heard-lines.ts";
import { findForm, type LineForm } from "./line-form.ts";
import type { Answer } from "./probe.ts";
import type { Question } from "./questions.ts";

/** All that was heard of an instrument with the right port settings. */
export interface Studied {
  readonly settings: SerialSettings;
  /** Its readings, as they came: unasked, or the answers to `poll`. */
  readonly readings: readonly HeardBytes[];
  readonly isCutIn: boolean;
  readonly poll: { readonly question: Question; readonly slowest_s: number } | null;
  readonly start: Question | null;
  /** Answers to questions who it is. */
  readonly identities: readonly Answer[];
  /** Whatever it was asked when it was found. */
  readonly answers: readonly Answer[];
}

export interface LineStudy {
  readonly form: LineForm;
  readonly facts: Omit<DraftFacts, "title" | "port" | "channels">;
}

/**
 * What the lines of an unknown instrument are made of.
 * @returns null where they have no line end, or no number
 */
export function studyLines(studied: Studied): LineStudy | null {
  const { end, lines } = splitLines(studied.readings, studied.isCutIn);
  if (end === null) return null;
  const answers = answersIn(studied.identities);
  const own = lines.filter(({ text }) => !answers.has(text));
  // An odd line among many must not hide the checksum of the others.
  const checksum = findChecksum(mostOf(own));
  const bare = own.map((line) => {
    const checked = checksum && checkLine(line.text, checksum);
    return checked?.ok ? { ...line, text: checked.text } : line;
  });
  const form = findForm(bare);
  if (!form) return null;
  const reply = new RegExp(form.pattern, "u");
  const readings = own.map(({ text }) => text);
  const identity = identityIn(studied.identities, reply, checksum, readings, end);
  return {
    form,
    facts: {
      settings: studied.settings,
      end,
      sendEnd: studied.poll?.question.end ?? identity?.end ?? studied.start?.end ?? null,
      form,
      checksum,
      looksChecked: !checksum && endsInDigits(own.map(({ text }) => text)),
      poll: studied.poll && { ask: studied.poll.question.text, slowest_s: studied.poll.slowest_s },
      startUp: studied.start?.text ?? null,
      identity: identity && { ask: identity.ask, answer: identity.answer },
      complaints: complaintsIn(studied.answers, reply, checksum, readings),
      interval_s: intervalsOf(form.lines),
    },
  };
}

export function draftOf(
  { facts }: LineStudy,
  about: {
    readonly title: string;
    readonly port: string;
    readonly channels: readonly (NamedChannel | null)[];
  },
): string {
  return draftProfile({ ...facts, ...about });
}

/** Lines that came as answers to who it is, so that they are not taken for readings. */
function answersIn(answers: readonly Answer[]): ReadonlySet<string> {
  const all = answers.map(({ heard }) => splitLines(heard, false).lines);
  return new Set(all.flatMap((lines) => (lines.length === 1 ? lines.map(({ text }) => text) : [])));
}

/** Lines of the most frequent length, give or take what a number's width changes. */
function mostOf(lines: readonly HeardLine[]): string[] {
  const lengths = lines.map(({ text }) => text.length).sort((a, b) => a - b);
  const usual = lengths[Math.floor(lengths.length / 2)] ?? 0;
  return lines.map(({ text }) => text).filter((text) => Math.abs(text.length - usual) <= 4);
}

const COMPLAINT = /^[?!]?$|^(?:\?|!|E\d|ERR|NAK|BAD|UNKNOWN|INVALID|SYNTAX|COMMAND|CMD|-\d{3},)/i;

/**
 * The answer that is no reading, no complaint and not the same to whatever was asked. It must have come twice: where an
 * instrument streams, the end of a line that was under way when it was asked looks like an answer, too.
 */
function identityIn(
  answers: readonly Answer[],
  reply: RegExp,
  checksum: LineChecksum | null,
  readings: readonly string[],
  ownEnd: LineEnd,
): { ask: string; answer: string; end: LineEnd } | null {
  const said = answers.flatMap(({ question, heard }) =>
    splitLines(heard, false)
      .lines.filter(({ text }) => !readings.some((reading) => reading.endsWith(text)))
      .flatMap(({ text }) => {
        const checked = checksum ? checkLine(text, checksum) : { ok: true as const, text };
        return checked.ok ? [{ ask: question.text, answer: checked.text, end: question.end }] : [];
      }),
  );
  const found = said.filter(
    ({ ask, answer }) =>
      !reply.test(answer) &&
      !COMPLAINT.test(answer.slice(checksum?.beginsAfter.length ?? 0)) &&
      said.filter((other) => other.answer === answer && other.ask === ask).length > 1,
  );
  // With the line end that it uses itself nothing is left over for the next command.
  const first = found.find((one) => one.end === ownEnd) ?? found[0];
  if (!first || found.some(({ ask, answer }) => ask !== first.ask && answer === first.answer)) return null;
  return first;
}

/** What reads as a complaint and is no reading, nor the end of one that was under way when it was asked. */
function complaintsIn(
  answers: readonly Answer[],
  reply: RegExp,
  checksum: LineChecksum | null,
  readings: readonly string[],
): string[] {
  const said = answers.flatMap(({ heard }) =>
    splitLines(heard, false).lines.flatMap(({ text }) => {
      const checked = checksum ? checkLine(text, checksum) : { ok: true as const, text };
      return checked.ok && !readings.some((reading) => reading.endsWith(text)) ? [checked.text] : [];
    }),
  );
  return [...new Set(said)].filter((text) => text !== "" && COMPLAINT.test(text) && !reply.test(text));
}

function intervalsOf(lines: readonly HeardLine[]): DraftFacts["interval_s"] {
  const first = lines[0]?.at_s ?? 0;
  const last = lines.at(-1)?.at_s ?? 0;
  const gaps = lines.slice(1).map(({ at_s }, i) => at_s - (lines[i]?.at_s ?? 0));
  return {
    typical: lines.length > 1 && last > first ? (last - first) / (lines.length - 1) : 1,
    longest: Math.max(0.001, ...gaps),
  };
}
