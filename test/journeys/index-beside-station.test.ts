import { execFileSync, spawn, spawnSync } from "node:child_process";
import { once } from "node:events";
import { rmSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { PROGRAM } from "../program.ts";
import { scratchFolder } from "../records/scratch-folder.ts";

const station = (folder: string, units: number) => [
  PROGRAM,
  ...["run", "--simulate", "--units", String(units), "--records", folder, "--json"],
];

function drumtight(...args: string[]) {
  const { status, stdout, stderr } = spawnSync(process.execPath, [PROGRAM, ...args], { encoding: "utf8" });
  return { status, stdout, stderr };
}

it("a deleted index loses nothing: a unit is found as before, and the next start or a rebuild makes it again", () => {
  const folder = join(scratchFolder(), "records");
  const told = execFileSync(process.execPath, station(folder, 4), { encoding: "utf8", stdio: "pipe" });
  const serial = /"event":"unit".*?"serial":"([^"]+)"/.exec(told)?.[1] ?? "?";
  const find = () => {
    const { state, attempts } = JSON.parse(drumtight("find", serial, "--records", folder, "--json").stdout);
    return { state, attempts };
  };
  const found = find();
  expect(found.attempts).toHaveLength(1);
  expect(drumtight("index", "check", "--records", folder)).toMatchObject({ status: 0 });

  for (const suffix of ["", "-wal", "-shm"]) rmSync(join(folder, `.index.db${suffix}`), { force: true });
  const none = drumtight("index", "check", "--records", folder);
  expect(none).toMatchObject({ status: 1, stdout: expect.stringContaining("There is no index in") });
  expect(find()).toEqual(found);

  expect(drumtight("index", "rebuild", "--records", folder)).toMatchObject({ status: 0, stderr: "" });
  expect(drumtight("index", "check", "--records", folder)).toMatchObject({ status: 0 });
  expect(find()).toEqual(found);
});

it("questions are answered while a station writes: no error, no lock, no difference, and a rebuild is refused", async () => {
  const folder = join(scratchFolder(), "records");
  execFileSync(process.execPath, station(folder, 2), { stdio: "pipe" });
  const running = spawn(process.execPath, station(folder, 200), { stdio: ["ignore", "pipe", "inherit"] });
  const ended = once(running, "exit");
  try {
    await once(running.stdout.resume(), "data");
    for (let asked = 0; asked < 2 && running.exitCode === null; asked++) {
      const check = drumtight("index", "check", "--records", folder, "--json");
      expect(check.stderr.replace(/^\d+ of \d+ travellers.*\n/gm, "")).toBe("");
      expect(JSON.parse(check.stdout)).toMatchObject({ equal: true, differences: [] });
    }
    const refused = drumtight("index", "rebuild", "--records", folder);
    if (running.exitCode === null) {
      expect(refused).toMatchObject({
        status: 2,
        stderr: expect.stringContaining("is using the records folder"),
      });
    }
  } finally {
    running.kill("SIGTERM");
    await ended;
  }
  expect(drumtight("index", "check", "--records", folder)).toMatchObject({ status: 0 });
});
