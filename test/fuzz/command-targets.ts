import { spawn } from "node:child_process";
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import { PROGRAM } from "../program.ts";
import { require, requireSentence } from "./clear-words.ts";
import { anyText, mutated } from "./mutate.ts";
import { type FuzzTarget, fuzzTarget } from "./target.ts";

const FILE = "given.yaml";
/** A command that takes longer hangs. */
const LONGEST_ms = 60_000;

/** What a process can be given: no NUL, and not without end. */
const word = fc
  .oneof(anyText, mutated(["POD000123", "90 inH2O", "kPa", "--json", "--records", "records", FILE], 2))
  .map((text) => text.replaceAll("\0", "").slice(0, 300));

/** Commands that only read, each with the words it wants, hostile ones in their place. */
const commandLine = fc.oneof(
  fc.tuple(fc.constant(["find"]), fc.tuple(word)),
  fc.tuple(fc.constant(["suspects"]), fc.array(word, { maxLength: 2 })),
  fc.tuple(fc.constant(["limits", "check", FILE]), fc.array(word, { maxLength: 2 })),
  fc.tuple(fc.constant(["gauge", "check-profile", FILE]), fc.array(word, { maxLength: 2 })),
  fc.tuple(fc.constant(["calc", "convert"]), fc.array(word, { maxLength: 3 })),
  fc.tuple(
    fc.constant(["calc", "convert"]),
    fc.tuple(
      fc.constantFrom("90 inH2O", "1 bar"),
      fc.constant("--to"),
      mutated(["kPa"], 1).map((text) => text.replaceAll("\0", "")),
    ),
  ),
  fc.tuple(fc.array(word, { maxLength: 1 }), fc.array(word, { maxLength: 3 })),
);

interface Ended {
  readonly code: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

function ran(args: readonly string[], cwd: string): Promise<Ended> {
  return new Promise((end) => {
    const child = spawn(process.execPath, [PROGRAM, ...args], { cwd, stdio: ["ignore", "pipe", "pipe"] });
    const said = { stdout: "", stderr: "" };
    child.stdout.setEncoding("utf8").on("data", (text) => {
      said.stdout += String(text);
    });
    child.stderr.setEncoding("utf8").on("data", (text) => {
      said.stderr += String(text);
    });
    const tooLong = setTimeout(() => child.kill("SIGKILL"), LONGEST_ms);
    child.on("close", (code) => {
      clearTimeout(tooLong);
      end({ code, ...said });
    });
  });
}

/** Whole processes, for the last of the way: from a file or a word to what somebody reads, and the exit code. */
export const COMMAND_TARGETS: readonly FuzzTarget[] = [
  {
    name: "command lines",
    share: 150,
    run: async (options, seen) => {
      const folder = mkdtempSync(join(tmpdir(), "drumtight-fuzz-"));
      const inputs = fc.record({ line: commandLine, text: anyText });
      const { run } = fuzzTarget("", 0, inputs, async ({ line, text }) => {
        writeFileSync(join(folder, FILE), text);
        const { code, stdout, stderr } = await ran(line.flat(), folder);
        require(code === 0 || code === 1 || code === 2, `ends with ${code}: ${stderr.slice(0, 600)}`);
        require(code === 0 || `${stdout}${stderr}`.trim() !== "", "refuses without a word");
        for (const said of `${stdout}\n${stderr}`.split("\n")) if (said !== "") requireSentence(said, 4000);
        require(readdirSync(folder).join() === FILE, `leaves ${readdirSync(folder).join()} behind`);
        return code === 0;
      });
      try {
        return await run(options, seen);
      } finally {
        rmSync(folder, { recursive: true, force: true });
      }
    },
  },
];
