import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { drumtight } from "./command-line.ts";

const scratch = mkdtempSync(join(tmpdir(), "drumtight-gauge-wrong-"));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

describe("a gauge command used wrongly ends with exit code 2 and one sentence", () => {
  it.each([
    [
      "a TCP port that there is not, to probe",
      ["gauge", "probe", "127.0.0.1:99999", "--yes"],
      /^127\.0\.0\.1:99999: there is no TCP port 99999; give one from 1 to 65535\.\n$/,
    ],
    [
      "a TCP port that there is not, to watch",
      ["gauge", "watch", "127.0.0.1:70000", "--profile", "stream-pressure"],
      /^127\.0\.0\.1:70000: there is no TCP port 70000/,
    ],
    ["a TCP port that there is not, to serve a gauge on", ["sim", "gauge", "--tcp", "99999"], /65535, or 0/],
    [
      "a TCP port that there is not, to serve a station on",
      ["sim", "serve", "--tcp", "99999"],
      /65530, or 0/,
    ],
    [
      "a folder that cannot be made, to serve a gauge in",
      ["sim", "gauge", "--pty", "/proc/x/y"],
      /^The folder \/proc\/x\/y cannot be made; give another --pty\.\n$/,
    ],
    [
      "a folder that cannot be made, to serve a station in",
      ["sim", "serve", "--pty", "/proc/x"],
      /^The folder \/proc\/x cannot be made; give another --pty\.\n$/,
    ],
    [
      "a folder in place of a port",
      ["gauge", "probe", tmpdir(), "--yes"],
      /is a folder, not a port; give the port itself, like \/dev\/ttyUSB0\.\n$/,
    ],
    [
      "Modbus units that there are not",
      ["gauge", "probe", "x", "--units", "1-300", "--yes"],
      /like 1-4 or 1,7/,
    ],
    [
      "a profile that is not there",
      ["gauge", "check-profile", "nope.yaml"],
      /^The profile nope\.yaml cannot be read: there is no such file or folder\.\n$/,
    ],
    [
      "a folder in place of a tape",
      ["gauge", "replay", scratch],
      /can't be read: it is a folder, not a file\. Tapes lie/,
    ],
    [
      "a key in a folder that is not there",
      ["audit", "new-key", "--out", join(scratch, "nowhere", "k.pem")],
      /could not be written: there is no such file or folder\. Give --out a new name in a folder that is there/,
    ],
  ])("%s", { timeout: 60_000 }, async (_, args, words) => {
    const { code, stdout, stderr } = await drumtight(args);
    expect(stderr).toMatch(words);
    expect(stderr).not.toMatch(/\n\s+at |Treat the fixture as live|E[A-Z]{4,}:/);
    // At most which port settings were being tried.
    expect(stdout).toMatch(/^(?:\d+-8N1\n)?$/);
    expect(code).toBe(2);
  });
});
