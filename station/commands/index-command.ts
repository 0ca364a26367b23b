import { Command } from "@commander-js/extra-typings";
import type { RecordsOptions } from "./records-at.ts";

interface IndexOptions extends RecordsOptions {
  readonly json?: true;
}

/** `drumtight index`: the SQL index beside the travellers, made anew or compared with them. */
export function indexCommand() {
  return new Command("index")
    .description(
      "The SQL index beside the travellers, from which questions about many units are answered. It may be deleted at any time: the files are the truth, and the station makes it anew when it starts.",
    )
    .addCommand(rebuildCommand())
    .addCommand(checkCommand());
}

/** 0 done, 1 a traveller is not as it was recorded and the index was left as it was, 2 cannot run. */
function rebuildCommand() {
  return new Command("rebuild")
    .description(
      "Make the index anew from the travellers, for a folder whose station does not run now. The old one stays in use until the new one is whole.",
    )
    .option("--records <dir>", 'records folder, instead of the station file\'s; "records" without either')
    .option("--station <file>", "station file: its records")
    .option("--json", "print one JSON object")
    .addHelpText("after", "\nExample:\n  drumtight index rebuild --station line-2.yaml")
    .action(async (options) => {
      process.exitCode = await rebuild(options);
    });
}

/** 0 equal, 1 it differs or there is none, 2 cannot run. */
function checkCommand() {
  return new Command("check")
    .description(
      "Compare every row of the index with the travellers, and name what differs. Changes nothing; the station may be running.",
    )
    .option("--records <dir>", 'records folder, instead of the station file\'s; "records" without either')
    .option("--station <file>", "station file: its records")
    .option("--json", "print one JSON object")
    .addHelpText("after", "\nExample:\n  drumtight index check --records records")
    .action(async (options) => {
      process.exitCode = await check(options);
    });
}

async function rebuild(options: IndexOptions): Promise<0 | 1> {
  const { recordsAt } = await import("./records-at.ts");
  const { rebuildIndex } = await import("../records/index-rebuild.ts");
  const { RecordError } = await import("../records/record-error.ts");
  const { escaped } = await import("../../limits/escaped-text.ts");
  const { folder } = recordsAt(options);
  const start_ms = performance.now();
  try {
    const travellers = await withProgress((onProgress) =>
      rebuildIndex({ folder, at_ms: Date.now(), onProgress }),
    );
    const seconds = (performance.now() - start_ms) / 1000;
    if (options.json)
      process.stdout.write(`${JSON.stringify({ folder, done: true, travellers, seconds })}\n`);
    else {
      const speed = Math.round(travellers / seconds);
      process.stdout.write(
        `The index of ${escaped(folder)} is made anew: ${travellers} travellers in ${seconds.toFixed(1)} s, ${speed} a second.\n`,
      );
    }
    return 0;
  } catch (error) {
    if (!(error instanceof RecordError && error.code === "CORRUPT")) throw error;
    const { message, path } = error;
    if (options.json) {
      process.stdout.write(`${JSON.stringify({ folder, done: false, path, problem: message })}\n`);
    }
    process.stderr.write(
      `${escaped(message)}\nNo new index was made, and the old one is as it was. drumtight audit says what else is not in order.\n`,
    );
    return 1;
  }
}

async function check(options: IndexOptions): Promise<0 | 1> {
  const { recordsAt } = await import("./records-at.ts");
  const { checkIndex } = await import("../records/index-check.ts");
  const { escaped } = await import("../../limits/escaped-text.ts");
  const { folder } = recordsAt(options);
  const checked = await withProgress((onProgress) => checkIndex(folder, onProgress));
  const isEqual = checked.isThere && checked.differenceCount === 0;
  if (options.json) {
    process.stdout.write(`${JSON.stringify({ folder, equal: isEqual, ...checked })}\n`);
    return isEqual ? 0 : 1;
  }
  const where = escaped(folder);
  const remedy = "Stop the station and make it anew: drumtight index rebuild.";
  if (!checked.isThere) {
    process.stdout.write(`There is no index in ${where} that can be read. ${remedy}\n`);
    return 1;
  }
  for (const { path, what } of checked.differences) process.stdout.write(`${escaped(`${path}: ${what}`)}\n`);
  const untold = checked.differenceCount - checked.differences.length;
  if (untold > 0) process.stdout.write(`... and ${untold} more\n`);
  process.stdout.write(
    isEqual
      ? `The index of ${where} is equal to its ${checked.travellers} travellers.\n`
      : `The index of ${where} is not equal to its ${checked.travellers} travellers: ${checked.differenceCount} differences. ${remedy}\n`,
  );
  return isEqual ? 0 : 1;
}

/** Of a program without a terminal, a line for each so much of the whole. */
const LINE_EACH = 0.1;

/** Progress on a line of its own on a terminal, in lines elsewhere; on standard error. */
async function withProgress<T>(
  work: (onProgress: (done: number, of: number) => void) => Promise<T>,
): Promise<T> {
  const isTerminal = process.stderr.isTTY === true;
  let told = 0;
  try {
    return await work((done, of) => {
      const text = `${done} of ${of} travellers (${Math.floor((100 * done) / Math.max(of, 1))} %)`;
      if (isTerminal) process.stderr.write(`\r\u001b[K${text}`);
      else if (done >= told + LINE_EACH * of && done < of) {
        told = done;
        process.stderr.write(`${text}\n`);
      }
    });
  } finally {
    if (isTerminal) process.stderr.write("\r\u001b[K");
  }
}
