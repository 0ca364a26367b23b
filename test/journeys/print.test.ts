import { spawnSync } from "node:child_process";
import { appendFileSync, chmodSync, existsSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { describe, expect, it, vi } from "vitest";
import { printCommand } from "../../station/commands/print.ts";
import { explain } from "../../station/explain.ts";
import { GOOD } from "../made-station-file.ts";
import { openStore, REAL } from "../print/made-unit.ts";
import { readCodes } from "../print/read-code.ts";
import { test as tested } from "../records/held-units.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { drumtight, type Finished } from "./command-line.ts";

/** A station that has passed A1 and is running. */
async function station() {
  const { folder, store } = await openStore();
  const { path } = await tested(store, "A1", "pass", { ...REAL, model: "POD-4" });
  return { folder, path, out: join(scratchFolder(), "a1.pdf") };
}

/** A folder with an lp in it that keeps what it was given, or with nothing in it. */
function queueOf(script?: string): { path: string; kept: string } {
  const folder = scratchFolder();
  const kept = join(folder, "kept.pdf");
  const bin = join(folder, "bin");
  mkdirSync(bin);
  if (script !== undefined) {
    writeFileSync(join(bin, "lp"), `#!/bin/sh\nPATH=/usr/bin:/bin\n${script.replace("KEPT", kept)}\n`);
    chmodSync(join(bin, "lp"), 0o755);
  }
  return { path: bin, kept };
}

/** The same in this process: what it says, and how it would end. */
async function printed(args: readonly string[], path?: string): Promise<Finished> {
  const said = { stdout: "", stderr: "" };
  const spies = (["stdout", "stderr"] as const).map((stream) =>
    vi.spyOn(process[stream], "write").mockImplementation((text) => {
      said[stream] += String(text);
      return true;
    }),
  );
  const { PATH, TZ } = process.env;
  if (path !== undefined) process.env.PATH = path;
  try {
    await printCommand().parseAsync(args, { from: "user" });
    return { code: Number(process.exitCode), ...said };
  } catch (error) {
    const { text, exitCode } = explain(error);
    return { code: exitCode, stdout: said.stdout, stderr: text };
  } finally {
    process.exitCode = 0;
    process.env.PATH = PATH;
    if (TZ === undefined) delete process.env.TZ;
    else process.env.TZ = TZ;
    for (const spy of spies) spy.mockRestore();
  }
}

describe("drumtight print", () => {
  it("writes the page to its file, and over none that is there", async () => {
    const { folder, out } = await station();
    const args = ["A1", "--pdf", out, "--records", folder];
    const print = (...more: string[]) => printed([...args, ...more]);
    expect(await drumtight(["print", ...args])).toEqual({
      code: 0,
      stdout: `PASS: A1 written to ${out}\n`,
      stderr: "",
    });
    expect((await readCodes(readFileSync(out)))[0]?.text).toBe("A1");
    expect(await print()).toMatchObject({ code: 2, stderr: expect.stringContaining("--force") });
    expect(await print("--force", "--size", "label")).toMatchObject({ code: 0 });
  });

  it("gives a model with a GTIN in the station file a GS1 code, and times in the plant's zone", async () => {
    const { folder, out } = await station();
    const file = join(scratchFolder(), "station.yaml");
    writeFileSync(file, `${GOOD}\ntime_zone: Asia/Tokyo\nlabels: { gtins: { POD-4: "04012345678901" } }\n`);
    const args = ["A1", "--pdf", out, "--records", folder, "--station", resolve(file)];
    expect(await printed(args)).toMatchObject({ code: 0, stderr: "" });
    expect(await readCodes(readFileSync(out))).toMatchObject([
      { text: "010401234567890121A1", identifier: "]d2" },
    ]);
    const { stdout } = spawnSync("pdftotext", ["-raw", out, "-"], { encoding: "utf8" });
    expect(stdout).toContain("2026-01-05 15:00:00 +09:00");
  });

  it("hands the page to a printer queue at its size, and says which job it is", async () => {
    const { folder } = await station();
    const { path, kept } = queueOf('cat > KEPT; echo "request id is labels-7 (1 file(s)) $*"');
    const args = ["A1", "--printer", "labels", "--size", "label", "--records", folder];
    const { code, stdout, stderr } = await printed(args, path);
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    expect(stdout).toContain("PASS: A1 sent to labels (request id is labels-7");
    expect(stdout).toContain("-d labels -t PASS: A1 -o media=Custom.57x32mm -o print-scaling=none -");
    expect((await readCodes(readFileSync(kept)))[0]?.text).toBe("A1");
  });

  it("says what to do where nothing could be printed", async () => {
    const { folder } = await station();
    const args = ["A1", "--printer", "labels", "--records", folder];
    expect(await printed(args, queueOf().path)).toMatchObject({
      code: 2,
      stdout: "",
      stderr: expect.stringMatching(/There is no lp on this computer, so nothing was printed: .*--pdf FILE/),
    });
    const refusing = queueOf("echo 'lp: The printer or class does not exist.' >&2; exit 1");
    expect(await printed(args, refusing.path)).toMatchObject({
      code: 2,
      stdout: "",
      stderr: expect.stringContaining(
        "Nothing was printed on labels: lp says: The printer or class does not exist.",
      ),
    });
  });

  it("prints nothing of a unit whose record was changed, and names the file", async () => {
    const { folder, path, out } = await station();
    appendFileSync(path, " ");
    const { code, stderr } = await printed(["A1", "--pdf", out, "--records", folder]);
    expect(code).toBe(1);
    expect(stderr).toContain(`${path} is not as it was recorded`);
    expect(existsSync(out)).toBe(false);
  });

  it.each<{ args: readonly string[]; code: number; says: string }>([
    { args: ["B9", "--pdf", "OUT"], code: 1, says: "No attempt of B9 is recorded" },
    { args: ["A1"], code: 2, says: "--pdf FILE, or --printer QUEUE" },
    { args: ["A1", "--pdf", "OUT", "--printer", "labels"], code: 2, says: "--pdf FILE, or --printer QUEUE" },
    { args: ["A1", "--pdf", "OUT", "--attempt", "0"], code: 2, says: "--attempt 0" },
    { args: ["A1", "--pdf", "OUT", "--code", "gs1-datamatrix"], code: 2, says: "No GTIN of POD-4 is known" },
    { args: ["A1", "--pdf", "OUT", "--label-size", "50x30"], code: 2, says: "--size label" },
    { args: ["A1", "--printer", "-o raw"], code: 2, says: "no name of a printer queue" },
  ])("answers $args with a sentence that says what to do", async ({ args, code, says }) => {
    const { folder, out } = await station();
    const typed = args.map((arg) => (arg === "OUT" ? out : arg));
    const done = await printed([...typed, "--records", folder]);
    expect(done).toMatchObject({ code, stdout: "" });
    expect(done.stderr).toContain(says);
    expect(done.stderr.trim().split("\n")).toHaveLength(1);
    expect(existsSync(out)).toBe(false);
  });
});
