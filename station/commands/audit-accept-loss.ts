import { Command } from "@commander-js/extra-typings";

interface AcceptLossOptions {
  readonly station: string;
  readonly records?: string;
  readonly as: string;
  readonly reason: string;
  readonly json?: true;
}

/** `drumtight audit accept-loss`: 0 done, 1 nothing is missing or more is wrong, 2 used wrongly, not allowed, or cannot run. */
export function acceptLossCommand() {
  return new Command("accept-loss")
    .description(
      "answer for records that were cut off and can't be had back, so that the station may start again; it is signed and kept",
    )
    .requiredOption("--station <file>", "station file")
    .option("--records <dir>", "records folder, instead of the station file's")
    .requiredOption(
      "--as <engineer>",
      "your name; where people sign in, your PIN is asked for (or DRUMTIGHT_PIN)",
    )
    .requiredOption("--reason <text>", "what happened to the records; it is recorded")
    .option("--json", "print the signed head as JSON")
    .addHelpText(
      "after",
      `
First look whether a backup has them: a restored folder needs no answer. The station must not be running. Units whose records
are lost are unknown to it: hold what left the line meanwhile until they are found or tested again.

Example:
  $ drumtight audit accept-loss --station line-2.yaml --as "A. Marsh" --reason "disk failed, restored from last night's backup"`,
    )
    .action(async (options) => {
      process.exitCode = await accept(options);
    });
}

async function accept(options: AcceptLossOptions): Promise<0 | 1> {
  const { readStationFileAlone } = await import("../load-station.ts");
  const { UsageError } = await import("../explain.ts");
  const { requireText } = await import("./records-at.ts");
  const { askUnseen } = await import("./ask-unseen.ts");
  const { commandWho } = await import("../people/command-who.ts");
  const { decider } = await import("../records/disposition.ts");
  const { openStationKey } = await import("../records/daily-head-key.ts");
  const { RealClock } = await import("../../drivers/real-clock.ts");
  const { acceptLoss } = await import("../records/accept-loss.ts");
  const reason = requireText("--reason", options.reason);
  const file = readStationFileAlone(options.station);
  if (file.dailyHead === null) {
    throw new UsageError(
      `${options.station} has no daily_head: this station signs no heads, and nobody has to answer for one.`,
    );
  }
  const { keyFile, publicKey, formerPublicKeys, copiesFolder } = file.dailyHead;
  const clock = new RealClock();
  const who = await commandWho({
    as: options.as,
    settings: file.signIn,
    least: "engineer",
    askPin: (question) => askUnseen(question, "DRUMTIGHT_PIN"),
    clock,
  });
  const outcome = await acceptLoss({
    folder: options.records ?? file.recordsFolder,
    station: file.name,
    key: openStationKey(keyFile, publicKey),
    keys: [publicKey, ...formerPublicKeys],
    copiesFolder,
    by: decider(who),
    reason,
    at_ms: clock.wall_ms(),
  });
  if (outcome.kind === "refused") {
    process.stderr.write(`${outcome.why} Nothing was recorded.\n`);
    return 1;
  }
  const back = outcome.restored === 0 ? "" : ` ${outcome.restored} heads came back from their copies.`;
  if (outcome.kind === "nothing missing") {
    process.stderr.write(
      `Every record that a head knew of is there: nobody has to answer for a loss.${back}\n`,
    );
    return 1;
  }
  const { head } = outcome;
  process.stdout.write(
    options.json
      ? `${JSON.stringify(head)}\n`
      : `Recorded and signed as head ${head.chain.sequence}: ${head.accepted?.by.name ?? "somebody"} answers for the loss.${back} The station may start; drumtight audit goes on telling of it.\n`,
  );
  return 0;
}
