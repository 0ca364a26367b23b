import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { drumtight } from "./command-line.ts";

const scratch = mkdtempSync(join(tmpdir(), "drumtight-profile-"));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

const SHIPPED = "drivers/profiles/stream-checked.yaml";

describe("an engineer checks a profile that is being written", () => {
  it("every mistake is named by file, line and column, and the good file beside it is good", async () => {
    const faulty = join(scratch, "leak.yaml");
    const text = readFileSync(SHIPPED, "utf8");
    writeFileSync(faulty, text.replace("kind: xor", "kind: xr").replace("within: 3 s", "within: 3"));
    const { code, stdout, stderr } = await drumtight(["gauge", "check-profile", faulty, SHIPPED]);
    const at = (words: string) => text.slice(0, text.indexOf(words)).split("\n").length;
    expect(stderr.trim().split("\n")).toEqual([
      `${faulty}:${at("kind: xor")}:9: checksum.kind: found "xr", expected one of "xor", "sum8", "crc16_modbus", "crc16_ccitt", "crc16_xmodem"`,
      expect.stringMatching(`${faulty}:${at("within: 3 s")}:11: self_test.within: found 3, expected a time`),
    ]);
    expect(stdout).toBe(`${SHIPPED}: OK, Streaming pressure gauge with checksum\n`);
    expect(code).toBe(1);
  });

  it("a file that is not there is told in one sentence", async () => {
    const { code, stderr } = await drumtight(["gauge", "check-profile", join(scratch, "none.yaml")]);
    expect(stderr).toMatch(/^The profile .*none\.yaml cannot be read: .*\.\n$/);
    expect(code).toBe(2);
  });

  it("its editor gets a JSON Schema that knows every key of the shipped profiles", async () => {
    const { code, stdout } = await drumtight(["gauge", "schema"]);
    const schema = JSON.stringify(JSON.parse(stdout));
    for (const key of [
      "checksum",
      "begins_after",
      "start_up",
      "self_test",
      "text_values",
      "send_terminator",
    ]) {
      expect(schema).toContain(`"${key}"`);
    }
    expect(code).toBe(0);
  });
});
