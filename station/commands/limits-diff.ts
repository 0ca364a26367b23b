import { Command } from "@commander-js/extra-typings";

const COLUMNS = 80;

/** `drumtight limits diff A B`: 0 they say the same, 1 they don't, 2 one can't be read or they are of two models. */
export function diffCommand() {
  return new Command("diff")
    .description(
      "what a limit file says differently from another one: in words and numbers, whatever the units",
    )
    .argument("<from>", "the limit file before (YAML)")
    .argument("<to>", "the limit file after (YAML)")
    .option("--json", "print one JSON object")
    .addHelpText(
      "after",
      "\nExit code 0: no difference; 1: they differ; 2: a file can't be read, or they are of two models." +
        "\nAnother unit for the same quantity, a comment, or the order of keys is no difference." +
        "\n\nExample:\n  $ drumtight limits diff approved/tub-12.yaml tub-12.yaml",
    )
    .action(async (from, to, { json }) => {
      process.exitCode = await diff(from, to, json === true);
    });
}

async function diff(from: string, to: string, json: boolean): Promise<0 | 1> {
  const { limitFileText, readWrittenLimits } = await import("../../limits/limit-file.ts");
  const { FileProblems } = await import("../../limits/checked-yaml.ts");
  const { limitDiff, writtenOtherwise } = await import("../../limits/diff/limit-diff.ts");
  const { UsageError } = await import("../explain.ts");
  const [a, b] = [from, to].map((path) => {
    try {
      return readWrittenLimits(path, limitFileText(path));
    } catch (error) {
      if (error instanceof FileProblems) return error;
      throw error;
    }
  });
  const problems = [a, b].flatMap((read) => (read instanceof FileProblems ? read.problems : []));
  if (problems.length > 0) throw new FileProblems(problems);
  if (!a || !b || a instanceof FileProblems || b instanceof FileProblems) return 1;
  if (a.limits.model !== b.limits.model) {
    throw new UsageError(
      `${from} holds the limits of ${a.limits.model} and ${to} those of ${b.limits.model}: give two limit files of one model.`,
    );
  }
  const changes = limitDiff(a, b);
  const equal = writtenOtherwise(a, b);
  if (json) {
    const file = (path: string, { model, revision, source }: typeof a.limits) => ({
      file: path,
      model,
      revision,
      sha256: source.sha256,
    });
    print(
      JSON.stringify({
        from: file(from, a.limits),
        to: file(to, b.limits),
        same: changes.length === 0,
        same_bytes: a.limits.source.sha256 === b.limits.source.sha256,
        changes,
        written_otherwise: equal,
      }),
    );
  } else {
    const { changeLines } = await import("../limit-change-lines.ts");
    const { escaped } = await import("../../limits/escaped-text.ts");
    print(
      escaped(
        `${a.limits.model}: ${from} (revision ${a.limits.revision}) -> ${to} (revision ${b.limits.revision})`,
      ),
    );
    if (changes.length === 0) {
      const same = a.limits.source.sha256 === b.limits.source.sha256;
      print(same ? "no difference" : "no difference in what they say; units, comments or layout differ");
    }
    for (const change of changes) print(changeLines(change, COLUMNS).join("\n"));
    for (const { words, from: was, to: is } of equal) print(escaped(`${words} ${was} = ${is}, the same`));
  }
  return changes.length === 0 ? 0 : 1;
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
