/** What the shell reports of programs ended by a closed pipe (128 + SIGPIPE): their output was not wanted to the end. */
const CLOSED_PIPE_EXIT = 141;

/** Standard output takes no more lines: whoever read it has gone, or the disk it goes to is full. */
export class OutputLost extends Error {
  readonly isReaderGone: boolean;

  /** @param outcome what came of the work that was going on, for the person who reads standard error */
  constructor(cause: unknown, outcome = "") {
    const why = cause instanceof Error ? cause.message : String(cause);
    super(`Standard output can no longer be written (${why}).${outcome && ` ${outcome}`}`, { cause });
    this.name = "OutputLost";
    this.isReaderGone = cause instanceof Error && "code" in cause && cause.code === "EPIPE";
  }
}

/**
 * For a program that has something to put in order first: it goes on, and has to end by itself.
 * @param lost called at every line that could not be written
 */
export function onLostOutput(lost: (error: OutputLost) => void): void {
  process.stdout.on("error", (cause) => lost(new OutputLost(cause)));
}

/** For all others: ends at once, without a word where the reader had enough, else with exit code 2 and the reason. */
export function endOnLostOutput(): void {
  // Where this fails too, nobody is left to tell.
  process.stderr.on("error", () => {});
  const end = (cause: Error) => {
    if (process.stdout.listeners("error").some((listener) => listener !== end)) return;
    const lost = new OutputLost(cause);
    if (lost.isReaderGone) process.exit(CLOSED_PIPE_EXIT);
    process.stderr.write(`${lost.message}\n`);
    process.exit(2);
  };
  process.stdout.on("error", end);
}
