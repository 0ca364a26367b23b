import { Command } from "@commander-js/extra-typings";

const MISTAKES = 1;
const CANNOT_RUN = 2;

/** `drumtight gauge check-profile`: profile files by themselves, with no instrument at hand. */
export function checkProfileCommand() {
  return new Command("check-profile")
    .description("name every mistake in profile files: file, line, column, found, expected")
    .argument("<file...>", "profile files (YAML)")
    .option("--json", "one JSON object per file")
    .addHelpText(
      "after",
      "\nExit code 1: a file has mistakes; 2: one cannot be read." +
        "\n\nExample:\n  $ drumtight gauge check-profile profiles/leak-gauge.yaml",
    )
    .action(async (files, { json }) => {
      let exitCode = 0;
      for (const file of files) {
        const checked = await check(file);
        if (json) process.stdout.write(`${JSON.stringify({ file, ...checked.report })}\n`);
        else if (checked.exitCode === 0) process.stdout.write(`${checked.sentence}\n`);
        else process.stderr.write(`${checked.sentence}\n`);
        exitCode = Math.max(exitCode, checked.exitCode);
      }
      process.exitCode = exitCode;
    });
}

interface CheckedFile {
  readonly exitCode: number;
  readonly sentence: string;
  readonly report: object;
}

async function check(file: string): Promise<CheckedFile> {
  const { readProfileAt } = await import("../../drivers/profile-file.ts");
  const { FileProblems } = await import("../../limits/checked-yaml.ts");
  const { DriverError } = await import("../../drivers/ports.ts");
  try {
    const { kind, title } = readProfileAt(file);
    return { exitCode: 0, sentence: `${file}: OK, ${title}`, report: { ok: true, kind, title } };
  } catch (error) {
    if (error instanceof FileProblems) {
      const { message: sentence, problems } = error;
      return { exitCode: MISTAKES, sentence, report: { ok: false, problems } };
    }
    if (!(error instanceof DriverError)) throw error;
    const { message: sentence } = error;
    return { exitCode: CANNOT_RUN, sentence, report: { ok: false, sentence } };
  }
}
