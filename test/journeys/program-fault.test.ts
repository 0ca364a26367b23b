import { spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { PROGRAM } from "../program.ts";

describe("A fault of the program", () => {
  it("is told with the lines of the sources, whatever file they were put into to be run", () => {
    const broken = `data:text/javascript,Object.entries = () => { throw new TypeError("made to fail") };`;
    const { status, stderr } = spawnSync(process.execPath, ["--import", broken, PROGRAM, "find", "POD1"], {
      encoding: "utf8",
    });
    expect(status).toBe(70);
    expect(stderr).toMatch(/^Program fault, please report it: TypeError: made to fail$/m);
    const [, source = "", line, column] = /\((station\/[\w/-]+\.ts):(\d+):(\d+)\)/.exec(stderr) ?? [];
    const text = readFileSync(source, "utf8").split("\n")[Number(line) - 1] ?? "";
    expect(text.slice(Number(column) - 1)).toMatch(/^(Object\.)?entries\(COMMANDS\)/);
    expect(stderr).not.toContain("dist/program");
  });
});
