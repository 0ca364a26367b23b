import type { ByteTransport, Clock } from "../../drivers/ports.ts";
import type { HeardBytes } from "./heard-bytes.ts";
import { splitLines } from "./heard-lines.ts";
import { Listening, type ListeningOptions } from "./listening.ts";
import type { Answer, ProbeFinding } from "./probe.ts";
import { givenQuestions, type Question } from "./questions.ts";
import type { Studied } from "./study-lines.ts";

export interface StudyOptions extends ListeningOptions {
  readonly transport: ByteTransport;
  readonly finding: ProbeFinding;
  /** Questions who it is, to be asked with the line end that it turns out to use; none where it is only listened to. */
  readonly whoAsks: readonly string[];
}

const WANTED_LINES = 200;
const STREAM_MOST_s = 6;
/** A slow stream gets more time, until there are so many. */
const LEAST_LINES = 12;
const STREAM_LONGEST_s = 30;
const UNASKED_LINES = 3;
const UNASKED_WITHIN_s = 1.5;
const POLLS = 40;
const POLL_EVERY_s = 0.05;
const ANSWER_WITHIN_s = 1;
const QUIET_s = 0.06;
const IDENTITY_TIMES = 3;
const IDENTITY_WITHIN_s = 0.4;

/**
 * Hears more of an instrument whose port settings are known: its stream, or answer after answer.
 * @returns null where nothing was found that it could be asked for a reading
 * @throws DriverError where the port cannot be opened any more
 */
export async function studyUnknown(options: StudyOptions): Promise<Studied | null> {
  const { finding, clock } = options;
  const listening = await Listening.open(options.transport, options);
  try {
    if (finding.start) listening.send(finding.start.bytes);
    const identities = [...finding.answers.filter(({ question }) => question.purpose === "identity")];
    const talks = finding.unasked.length > 0 || (await comesUnasked(listening));
    const ask = talks ? null : readingQuestion(finding);
    if (!talks && !ask) return null;
    const { settings, start, answers } = finding;
    const about = { settings, start, identities, answers };
    if (ask) {
      const { readings, slowest_s } = await pollMany(listening, ask, clock);
      await askWho(listening, options, identities);
      return { ...about, readings, isCutIn: false, poll: { question: ask, slowest_s } };
    }
    const linesNow = () => splitLines(listening.heard, true).lines.length;
    await listening.until(() => linesNow() >= WANTED_LINES, STREAM_MOST_s);
    await listening.until(() => linesNow() >= LEAST_LINES, STREAM_LONGEST_s - STREAM_MOST_s);
    const readings = [...listening.heard];
    await askWho(listening, options, identities);
    return { ...about, readings, isCutIn: true, poll: null };
  } finally {
    await listening.close();
  }
}

/** What began to talk late seemed to answer whatever it was asked. */
async function comesUnasked(listening: Listening): Promise<boolean> {
  const linesNow = () => splitLines(listening.heard, true).lines.length;
  return listening.until(() => linesNow() >= UNASKED_LINES, UNASKED_WITHIN_s);
}

/** What was answered with a line that has a number in it: the engineer's own question first. */
function readingQuestion({ answers }: ProbeFinding): Question | null {
  const candidates = answers.filter(
    ({ question, heard }) =>
      question.purpose !== "identity" && splitLines(heard, false).lines.some(({ text }) => hasValue(text)),
  );
  const given = candidates.find(({ question }) => question.purpose === "given");
  return (given ?? candidates[0])?.question ?? null;
}

/** A complaint may have a number, too, but hardly one so long. */
function hasValue(text: string): boolean {
  return /\d/.test(text) && !/^(?:\W?(?:ERR|E)\W?\d+|-\d{3},)/i.test(text);
}

async function pollMany(listening: Listening, question: Question, clock: Clock) {
  const readings: HeardBytes[] = [];
  let slowest_s = 0;
  for (let i = 0; i < POLLS && !listening.isOver; i++) {
    const from = listening.heard.length;
    const asked_s = clock.now_s();
    listening.send(question.bytes);
    const came = () => listening.heard.slice(from);
    if (!(await listening.until(() => splitLines(came(), false).lines.length > 0, ANSWER_WITHIN_s))) continue;
    slowest_s = Math.max(slowest_s, clock.now_s() - asked_s);
    await listening.during(Math.max(0, POLL_EVERY_s - (clock.now_s() - asked_s)));
    readings.push(...came());
  }
  return { readings, slowest_s };
}

/** Again and again, to see whether it says the same; what was left over of a question before may spoil the first. */
async function askWho(
  listening: Listening,
  { whoAsks, clock }: StudyOptions,
  identities: Answer[],
): Promise<void> {
  const { end } = splitLines(listening.heard, false);
  for (const text of new Set(whoAsks)) {
    const question = givenQuestions(text).find((variant) => variant.end === end);
    for (let i = 0; question && i < IDENTITY_TIMES && !listening.isOver; i++) {
      const from = listening.heard.length;
      const asked_s = clock.now_s();
      listening.send(question.bytes);
      const came = () => listening.heard.slice(from);
      const isAnswered = await listening.until(
        () => splitLines(came(), false).lines.length > 0,
        IDENTITY_WITHIN_s,
      );
      const took_s = clock.now_s() - asked_s;
      await listening.untilQuiet(QUIET_s, 2 * QUIET_s);
      if (isAnswered) identities.push({ question, heard: came(), took_s });
    }
  }
}
