import { readFileSync } from "node:fs";
import { basename, dirname } from "node:path";
import { z } from "zod";
import { findProfile, ownProfilesFolder } from "../../drivers/profile-file.ts";
import type { PreparedAttempt } from "../cycle/attempt.ts";
import { sha256Hex } from "../records/chain.ts";
import type { StationFile } from "../station-file.ts";

/** What was known of the attempt before it began, but for what its files say. */
export const PreparedFacts = z.strictObject({
  serial: z.string(),
  model: z.string(),
  parts: z.record(z.string(), z.string()),
  number: z.int().positive(),
  kind: z.enum(["first", "retest", "after_rework"]),
  isDraft: z.boolean(),
  approvedBy: z.string().nullable(),
  who: z.strictObject({
    name: z.string().nullable(),
    how: z.enum(["off", "stated", "badge", "pin"]),
    role: z.enum(["inspector", "engineer", "supervisor"]).nullable(),
  }),
  retestReason: z.string().nullable(),
  isReference: z.boolean(),
});
export type PreparedFacts = z.infer<typeof PreparedFacts>;

const Levels = z.record(z.string(), z.boolean());

export const StateAtStartShape = z.strictObject({
  memories: z.record(z.string(), z.record(z.string(), z.number())),
  inputs: z.record(z.string(), Levels),
  reading: z.record(z.string(), z.int().positive()),
  answering: z.array(z.string()).readonly().default([]),
  newestPressure_Pa: z.number().nullable(),
  motorStoodStill: z.string().nullable(),
});

const TextFile = z.strictObject({ name: z.string(), text: z.string() });
type TextFile = z.infer<typeof TextFile>;

/** Every file that decided about the attempt, whole: a tape needs nothing beside it to be played back. */
export const TapedFiles = z.strictObject({
  software: z.string(),
  station: TextFile,
  limits: TextFile,
  profiles: z.array(TextFile).readonly(),
  calibrations: z.array(TextFile.extend({ kind: z.enum(["settle", "volume"]) })).readonly(),
});
export type TapedFiles = z.infer<typeof TapedFiles>;

export function preparedFacts(attempt: PreparedAttempt): PreparedFacts {
  const { serial, parts, number, kind, isDraft, approvedBy, who, retestReason, reference, limits } = attempt;
  return {
    serial,
    model: limits.model,
    parts: { ...parts },
    number,
    kind,
    isDraft,
    approvedBy,
    who: { name: who.name, how: who.how, role: who.role },
    retestReason,
    isReference: reference !== null,
  };
}

/** The files that decide about units since the station's start. */
export class FilesForTapes {
  readonly #software: string;
  readonly #station: TextFile;
  readonly #profiles: readonly TextFile[];
  /** By SHA-256: limits may be changed while the station runs. */
  readonly #texts = new Map<string, string>();

  /** @param inForce limit files and calibrations, as they were read */
  constructor(
    source: { readonly path: string; readonly text: string },
    file: Pick<StationFile, "gauges" | "ioBlock">,
    inForce: readonly { readonly text: string }[],
    software: string,
  ) {
    this.#software = software;
    this.#station = { name: basename(source.path), text: source.text };
    this.take(inForce);
    const folders = [dirname(source.path), ownProfilesFolder()];
    const names = new Set([...file.gauges, file.ioBlock].map(({ profile }) => profile));
    this.#profiles = [...names].flatMap((name) => {
      const path = findProfile(name, folders);
      return path === null ? [] : [{ name, text: readFileSync(path, "utf8") }];
    });
  }

  /** Files that decide from now on, too. */
  take(inForce: readonly { readonly text: string }[]): void {
    for (const { text } of inForce) this.#texts.set(sha256Hex(text), text);
  }

  of({ limits, calibration }: PreparedAttempt): TapedFiles {
    return {
      software: this.#software,
      station: this.#station,
      limits: this.#file(basename(limits.source.path), limits.source.sha256),
      profiles: this.#profiles,
      calibrations: (["settle", "volume"] as const).flatMap((kind) => {
        const inForce = calibration[kind];
        return inForce ? [{ kind, ...this.#file(inForce.file, inForce.sha256) }] : [];
      }),
    };
  }

  #file(name: string, sha256: string): TextFile {
    return { name, text: this.#texts.get(sha256) ?? "" };
  }
}
