import { Command } from "@commander-js/extra-typings";

/** `drumtight audit new-key`: 0 done, 2 used wrongly or cannot run. */
export function newStationKeyCommand() {
  return new Command("new-key")
    .description("make the key a station signs its heads with, and the lines for the station file")
    .requiredOption("--out <file>", "where the private key goes; never overwritten")
    .option("--json", "print the public key as JSON")
    .addHelpText(
      "after",
      `
Run it as the account the station runs as: nobody else may read the key, and it has no passphrase, since a station starts by
itself. Keep the public key where the station's account can't change it, too: an audit by that one needs no secret.

Example:
  $ drumtight audit new-key --out /etc/drumtight/station-key.pem`,
    )
    .action(async ({ out, json }) => {
      const { writeFile } = await import("node:fs/promises");
      const { newStationKey } = await import("../records/daily-head-key.ts");
      const { UsageError } = await import("../explain.ts");
      const { resolve } = await import("node:path");
      const { errnoOf } = await import("../records/record-error.ts");
      const { whyNot } = await import("../../drivers/why-not.ts");
      const { privatePem, publicKey } = newStationKey();
      try {
        await writeFile(out, privatePem, { flag: "wx", mode: 0o600 });
      } catch (error) {
        const why =
          errnoOf(error) === "EEXIST" ? "it is there already, and is not overwritten" : whyNot(error);
        throw new UsageError(
          `${out} could not be written: ${why}. Give --out a new name in a folder that is there and that this account may write in.`,
        );
      }
      process.stdout.write(
        json
          ? `${JSON.stringify({ public_key: publicKey, file: out })}\n`
          : `daily_head:\n  key: ${JSON.stringify(resolve(out))}\n  public_key: ${publicKey}\n  copies: FOLDER ON ANOTHER DISK\n`,
      );
    });
}
