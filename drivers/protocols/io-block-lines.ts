import type { Levels } from "../ports.ts";
import type { IoBlockState } from "./io-block.ts";

const STATE = /^OUT((?: \w+=[01])*) IN((?: \w+=[01])*) WD=([01])$/;

/** @example setCommand({ source: true, vent: false }) // "SET source=1 vent=0" */
export function setCommand(levels: Levels): string {
  return ["SET", ...Object.entries(levels).map(([name, level]) => `${name}=${level ? 1 : 0}`)].join(" ");
}

/**
 * Reads the answer to GET.
 * @returns undefined unless every expected name is there once and no other
 * @example parseState("OUT vent=1 IN guard=1 WD=0", ["vent"], ["guard"])
 */
export function parseState(
  line: string,
  outputNames: readonly string[],
  inputNames: readonly string[],
): IoBlockState | undefined {
  const match = STATE.exec(line);
  if (!match) return undefined;
  const outputs = parseLevels(match[1] ?? "", outputNames);
  const inputs = parseLevels(match[2] ?? "", inputNames);
  return outputs && inputs && { outputs, inputs, watchdogTripped: match[3] === "1" };
}

function parseLevels(text: string, names: readonly string[]): Levels | undefined {
  const found = new Map(
    text
      .split(" ")
      .filter((part) => part !== "")
      .map((part) => {
        const [name = "", level] = part.split("=");
        return [name, level === "1"] as const;
      }),
  );
  const parts = text === "" ? 0 : text.split(" ").length - 1;
  if (parts !== names.length || found.size !== names.length || !names.every((name) => found.has(name)))
    return undefined;
  return Object.fromEntries(names.map((name) => [name, found.get(name) === true]));
}
