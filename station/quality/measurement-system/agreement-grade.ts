import { formatNumber } from "../../../limits/print-quantity.ts";
import type { AcceptanceBand, StudyAnswer } from "../study-report.ts";
import type { Agreement } from "./agreement.ts";
import type { RatedUnits } from "./rated-units.ts";

export const AGREEMENT_BANDS: readonly AcceptanceBand[] = [
  {
    text: "effectiveness 90 % or more: good; 80 % or more: marginal; below: not fit",
    source: "AIAG, Measurement Systems Analysis, 4th ed., from memory",
  },
  {
    text: "miss rate 2 % at most: good; 5 % at most: marginal; above: not fit",
    source: "AIAG, Measurement Systems Analysis, 4th ed., from memory",
  },
  {
    text: "false alarm rate 5 % at most: good; 10 % at most: marginal; above: not fit",
    source: "AIAG, Measurement Systems Analysis, 4th ed., from memory",
  },
  {
    text: "kappa 0.75 or more: good agreement; below 0.4: poor",
    source: "AIAG, Measurement Systems Analysis, 4th ed.; Fleiss, 1981; from memory",
  },
];

/** Fewer say little, whatever they say. Common practice, no source. */
const FEWEST = 20;
/** Bad ones, and good ones: 19 good ones and a single bad one tell nothing of misses. Common practice, no source. */
const FEWEST_OF_A_KIND = 5;

type Grade = "yes" | "marginal" | "no";

interface Graded {
  readonly grade: Grade;
  /** As part of a sentence. */
  readonly says: string;
}

/** @returns the worst of all that has a band; never a yes from too few units, or without knowing which rating rejects */
export function gradedAgreement(
  rated: RatedUnits,
  found: Agreement,
): { readonly answer: StudyAnswer; readonly conclusion: string } {
  const { categories, units } = rated;
  if (categories.length === 1) {
    return {
      answer: "none",
      conclusion: `All ratings are ${categories[0]}, so agreement proves nothing: rate good units, bad ones and some near the limit.`,
    };
  }
  const graded = [...againstGrades(found), ...kappaGrades(found)];
  const worst = (["no", "marginal", "yes"] as const).find((grade) =>
    graded.some((one) => one.grade === grade),
  );
  const those = graded.filter(({ grade }) => grade === worst).map(({ says }) => says);
  const listed = `${those.slice(0, 4).join("; ")}${those.length > 4 ? `; and ${those.length - 4} more` : ""}`;
  if (worst === undefined) {
    return { answer: "none", conclusion: "Nothing here can be held against a band: see the notes." };
  }
  if (worst === "no") return { answer: "no", conclusion: `The ratings are not fit to judge by: ${listed}.` };
  if (worst === "marginal") return { answer: "marginal", conclusion: `The ratings may do: ${listed}.` };
  if (units.length < FEWEST) {
    return {
      answer: "none",
      conclusion: `The ratings agree, but ${units.length} units are too few to rely on it: rate ${FEWEST} or more, better 50.`,
    };
  }
  if (found.against.length === 0) {
    return {
      answer: "yes",
      conclusion:
        "The ratings agree with each other. Whether they are right can't be said without references.",
    };
  }
  if (found.against.some(({ miss, falseAlarm }) => miss === null || falseAlarm === null)) {
    return {
      answer: "none",
      conclusion:
        "The ratings agree with the references, but how often bad units are missed can't be told: see the notes.",
    };
  }
  const scarce = scarceKind(rated, found);
  if (scarce !== null) {
    return {
      answer: "none",
      conclusion: `The ratings agree with the references, but of ${scarce} only: too few to rely on it. Rate ${FEWEST_OF_A_KIND} or more of each kind, some near the limit.`,
    };
  }
  return { answer: "yes", conclusion: "The ratings agree with each other and with the references." };
}

/** The kind of unit there is too little of to say how often it is called the other, in words; null where both suffice. */
function scarceKind({ units }: RatedUnits, { bad }: Agreement): string | null {
  const known = units.filter(({ reference }) => reference !== null);
  const ofBad = known.filter(({ reference }) => bad?.includes(reference ?? "")).length;
  const [fewest, kind] =
    ofBad <= known.length - ofBad ? ([ofBad, "bad"] as const) : ([known.length - ofBad, "good"] as const);
  return fewest < FEWEST_OF_A_KIND ? `${fewest} ${kind} unit${fewest === 1 ? "" : "s"}` : null;
}

function againstGrades({ against }: Agreement): Graded[] {
  return against.flatMap(({ appraiser, effectiveness, miss, falseAlarm }) => [
    {
      grade: grade(effectiveness.rate >= 0.9, effectiveness.rate >= 0.8),
      says: `${appraiser} rates ${percent(effectiveness.rate)} of the units right each time`,
    },
    ...(miss
      ? [
          {
            grade: grade(miss.rate <= 0.02, miss.rate <= 0.05),
            says: `${appraiser} misses ${percent(miss.rate)} of the bad`,
          },
        ]
      : []),
    ...(falseAlarm
      ? [
          {
            grade: grade(falseAlarm.rate <= 0.05, falseAlarm.rate <= 0.1),
            says: `${appraiser} rejects ${percent(falseAlarm.rate)} of the good`,
          },
        ]
      : []),
  ]);
}

function kappaGrades({ within, between, against }: Agreement): Graded[] {
  const all = [
    ...within.map(({ appraiser, overall }) => ({
      kappa: overall?.kappa ?? null,
      who: `${appraiser} from trial to trial`,
    })),
    ...(between?.pairs ?? []).map(({ appraisers, kappa }) => ({ kappa, who: appraisers.join(" with ") })),
    ...against.map(({ appraiser, kappa }) => ({ kappa, who: `${appraiser} with the reference` })),
  ];
  return all.flatMap(({ kappa, who }) =>
    kappa === null
      ? []
      : [
          {
            grade: grade(kappa >= 0.75, kappa >= 0.4),
            says: `${who} agrees with kappa ${formatNumber(kappa, { decimals: 3 })}`,
          },
        ],
  );
}

function grade(isGood: boolean, isMarginal: boolean): Grade {
  return isGood ? "yes" : isMarginal ? "marginal" : "no";
}

function percent(rate: number): string {
  return `${formatNumber(100 * rate, { significant: 3 })} %`;
}
