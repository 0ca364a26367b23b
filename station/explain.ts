import { DriverError } from "../drivers/ports.ts";
import { escapedLines } from "../limits/escaped-text.ts";
import { sourceLines } from "./source-lines.ts";

/** What the command line says of an error, and the exit code: 2 used wrongly or cannot run, 70 a fault of the program. */
export interface Notice {
  readonly text: string;
  readonly exitCode: 2 | 70;
}

/** A command used in a way that can't work; the message says what to do instead. */
export class UsageError extends Error {
  constructor(message: string) {
    super(message);
    this.name = "UsageError";
  }
}

/** @returns any error in the words of the person at the terminal */
export function explain(error: unknown): Notice {
  // Messages repeat what was typed, scanned or read: nothing of it may be obeyed by the terminal.
  if (error instanceof DriverError) return { text: escapedLines(error.message), exitCode: 2 };
  // By name, so that neither zod and yaml nor the database are loaded to print a message.
  if (
    error instanceof Error &&
    [
      "UsageError",
      "DriftError",
      "NoStudy",
      "FileProblems",
      "RecordError",
      "UnitError",
      "OutputLost",
    ].includes(error.name)
  ) {
    return { text: escapedLines(error.message), exitCode: 2 };
  }
  const shown = error instanceof Error ? sourceLines(error.stack ?? error.message) : String(error);
  return {
    text: `Program fault, please report it: ${shown}\nTreat the fixture as live until you have looked at it.`,
    exitCode: 70,
  };
}
