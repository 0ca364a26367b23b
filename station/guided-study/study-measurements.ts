import type { Traveller } from "../records/traveller.ts";
import { placeIn } from "../study-data/record-asked.ts";
import type { StudyPlan } from "./study-plan.ts";

type Measured = Traveller["characteristics"][number];

/** What a traveller is to a plan. */
export type StudyTraveller =
  /** Of no study, or of another one. */
  | { readonly kind: "none" }
  /** Measured for a study of this name by another plan. */
  | { readonly kind: "other plan"; readonly sha256: string }
  /** It says that it is of this plan, and the plan has no such run. */
  | { readonly kind: "not planned" }
  /** Void, or without the value that the study is about: the run is to be measured again. */
  | { readonly kind: "nothing measured"; readonly run: number }
  | {
      readonly kind: "measured";
      readonly run: number;
      /** Null where verdicts are compared. */
      readonly measured: (Measured & { readonly value: number }) | null;
    };

export function studyTraveller(plan: StudyPlan, traveller: Traveller): StudyTraveller {
  const { study, serial, verdict, model } = traveller;
  if (!study) return { kind: "none" };
  if (study.plan_sha256 !== plan.sha256)
    return study.name === plan.name && model === plan.model
      ? { kind: "other plan", sha256: study.plan_sha256 }
      : { kind: "none" };
  const { run, appraiser, trial } = study;
  const planned = plan.runs[run - 1];
  if (
    planned?.part !== serial ||
    planned.appraiser !== appraiser ||
    planned.trial !== trial ||
    model !== plan.model
  )
    return { kind: "not planned" };
  if (verdict === "void") return { kind: "nothing measured", run };
  if (plan.characteristic === undefined) return { kind: "measured", run, measured: null };
  const measured = traveller.characteristics[placeIn(traveller.characteristics, plan.characteristic)];
  if (!measured || measured.value === null || measured.verdict === "void")
    return { kind: "nothing measured", run };
  return { kind: "measured", run, measured: { ...measured, value: measured.value } };
}
