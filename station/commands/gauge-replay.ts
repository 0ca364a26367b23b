import { Command } from "@commander-js/extra-typings";
import type { TapeFound } from "../flight/tape-file.ts";

interface ReplayOptions {
  readonly conversation?: string | true;
  readonly json?: true;
}

/** `drumtight gauge replay FILE`: 0 the same verdict and digits, 1 other ones or another record, 2 can't be replayed. */
export function replayTapeCommand() {
  return new Command("replay")
    .description(
      "play an attempt's raw conversation back through the drivers and the test, and compare the verdict",
    )
    .argument("<tape>", "a .tape file below flight/ in the records folder")
    .option("--conversation [instrument]", "show what was said instead, by all instruments or by this one")
    .option("--json", "print one JSON object")
    .addHelpText(
      "after",
      `
A tape has the files that decided about the attempt in it: station file, limit file, profiles, calibrations. Besides
only its record is read, where it lies in the records folder, and must be the traveller on the tape; no instrument is
touched and nothing is written. Times are seconds since the test began; < was heard,
> was sent. A damaged tape is not replayed; its conversation is shown as far as it can be read.

Examples:
  drumtight gauge replay records/flight/2026/01/05/00000042-POD000123-1.tape
  drumtight gauge replay 00000042-POD000123-1.tape --conversation leak_gauge`,
    )
    .action(async (path, options) => {
      process.exitCode = await replay(path, options);
    });
}

async function replay(path: string, options: ReplayOptions): Promise<0 | 1 | 2> {
  const { UsageError } = await import("../explain.ts");
  if (options.json && options.conversation !== undefined) {
    throw new UsageError("Give --json or --conversation: a conversation is for reading.");
  }
  const { unpackTape } = await import("../flight/tape-file.ts");
  const found = await unpackTape(await bytesOf(path));
  if (!found.header || !found.contents) {
    throw new UsageError(`${path} can't be read as a tape: ${found.damage ?? "it is none"}.`);
  }
  if (options.conversation !== undefined) return showConversation(path, found, options.conversation);
  if (found.damage !== null) {
    throw new UsageError(
      `${path} is damaged: ${found.damage}. It is not replayed. ${readable(found)} can be read: add --conversation.`,
    );
  }
  if (found.contents.isCut) {
    throw new UsageError(
      `${path} ends early: more was said than a tape may hold. See it with --conversation.`,
    );
  }
  return compare(path, found, options.json === true);
}

async function compare(path: string, found: TapeFound, asJson: boolean): Promise<0 | 1 | 2> {
  const { UsageError } = await import("../explain.ts");
  const { replayTape } = await import("../flight/replay.ts");
  const { compareTape } = await import("../flight/tape-comparison.ts");
  const { recordOfTape } = await import("../flight/tape-record.ts");
  const { comparisonText, recordLine } = await import("../flight/tape-text.ts");
  const { softwareName } = await import("../package-root.ts");
  const { header, contents, preamble, events } = found;
  if (!header || !contents) throw new Error("There is nothing to compare.");
  const record = await recordOfTape(path, contents).catch((error: Error) => {
    throw new UsageError(`The record beside the tape ${path} can't be read (${error.message}).`);
  });
  const replayed = await replayTape({ contents, preamble, events });
  const about = `${header.serial}, attempt ${header.attempt}`;
  if (replayed.kind === "diverged") {
    const when =
      replayed.at_s === null ? "Before the test began" : `At ${replayed.at_s.toFixed(3)} s of the test`;
    const isOwn = header.software === softwareName();
    const makers = isOwn ? "" : ` It was made by ${header.software}; this is ${softwareName()}.`;
    throw new UsageError(`${about}: the tape can't be replayed. ${when} ${replayed.why}.${makers}`);
  }
  const comparison = compareTape(contents.traveller, replayed);
  const verdicts = { recorded: header.verdict, replayed: replayed.outcome.verdict };
  if (asJson) {
    const { serial, attempt, software } = header;
    const answer = { tape: path, serial, attempt, software, same: comparison.isSame, verdict: verdicts };
    const { characteristics, differing } = comparison;
    process.stdout.write(`${JSON.stringify({ ...answer, record: record.is, characteristics, differing })}\n`);
  } else {
    process.stdout.write(
      `${about} (${contents.attempt.model}), ended ${header.ended_at ?? "unseen"}, ${header.software}, ${events.length} events\n\n`,
    );
    process.stdout.write(`${comparisonText(comparison, verdicts)}\n${recordLine(record)}\n`);
  }
  return comparison.isSame && record.is !== "another" ? 0 : 1;
}

async function showConversation(path: string, found: TapeFound, which: string | true): Promise<0 | 2> {
  const { UsageError } = await import("../explain.ts");
  const { beginOf, conversationLines } = await import("../flight/tape-text.ts");
  const { framingsOnTape } = await import("../flight/taped-frames.ts");
  const framings = framingsOnTape(found.contents);
  const instruments = found.contents?.instruments ?? [];
  const only = which === true ? null : which;
  if (only !== null && !instruments.includes(only)) {
    throw new UsageError(`The tape has no instrument ${only}; it has: ${instruments.join(", ")}.`);
  }
  const print = (text: string) => process.stdout.write(`${text}\n`);
  print(`Last connected before the test:`);
  for (const line of conversationLines(found.preamble, found.preamble[0]?.t_s ?? 0, only, framings))
    print(line);
  print(`\nThe test of ${found.header?.serial}, attempt ${found.header?.attempt}:`);
  for (const line of conversationLines(found.events, beginOf(found.events), only, framings)) print(line);
  if (found.damage === null) return 0;
  process.stderr.write(`${path} is damaged: ${found.damage}. What can be read of it is shown.\n`);
  return 2;
}

function readable({ preamble, events }: TapeFound): string {
  if (events.length === 0) return preamble.length === 0 ? "Nothing" : "How its instruments were connected";
  const [first] = events;
  const last = events.at(-1);
  return `Its first ${((last?.t_s ?? 0) - (first?.t_s ?? 0)).toFixed(1)} s`;
}

async function bytesOf(path: string): Promise<Buffer> {
  const { readFile } = await import("node:fs/promises");
  const { UsageError } = await import("../explain.ts");
  try {
    return await readFile(path);
  } catch (error) {
    const { whyNot } = await import("../../drivers/why-not.ts");
    throw new UsageError(
      `The tape ${path} can't be read: ${whyNot(error)}. Tapes lie in the records folder, below flight/.`,
    );
  }
}
