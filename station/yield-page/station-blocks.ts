import { formatNumber } from "../../limits/print-quantity.ts";
import type { YieldReport } from "../yield/yield-report.ts";
import type { DocumentBlock, DocumentSection } from "./page-document.ts";
import { paretoBlocks } from "./pareto-blocks.ts";
import { plantTime } from "./plant-time.ts";
import { percentNumber } from "./share-text.ts";

const text = (heading: string) => ({ heading, kind: "text" as const });
const number = (heading: string) => ({ heading, kind: "number" as const });

/** What the units went through, step by step, and what tests there were. */
export function stepsSection({ total, cycleTime, voidsByCause }: YieldReport): DocumentSection {
  const { steps, retested, reworked, reworkPassed, tests, voidTests, defects } = total;
  const share = (value: number | null) => (value === null ? "" : percentNumber(value));
  return {
    heading: "Steps and tests",
    blocks: [
      {
        kind: "table",
        table: {
          caption: "First pass yield of each step, of units that got to it",
          columns: [
            text("step"),
            number("units"),
            number("passed"),
            number("yield, %"),
            number("95 % from"),
            number("to"),
          ],
          rows: steps.map(({ step, passed }) => [
            step,
            String(passed.of),
            String(passed.count),
            share(passed.value),
            share(passed.lower),
            share(passed.upper),
          ]),
        },
      },
      {
        kind: "table",
        table: {
          caption: "Tests, and what was gained by testing again",
          columns: [text("what"), number("count"), text("of these")],
          rows: [
            ["tests", String(tests), `${voidTests} without a valid measurement`],
            ["units tested again after a fail", String(retested.of), `${retested.count} passed then`],
            ["units reworked", String(reworked.count), `${reworkPassed.count} passed since`],
            [
              "defects found at first inspection",
              String(defects.found),
              defects.dpmo === null
                ? "nothing was looked at"
                : `of ${defects.opportunities} opportunities: ${formatNumber(defects.dpmo, { significant: 4 })} per million`,
            ],
            ...(cycleTime
              ? [
                  [
                    "valid tests with a known duration",
                    String(cycleTime.tests),
                    `median ${formatNumber(cycleTime.median_s, { decimals: 1 })} s, 95 % within ${formatNumber(cycleTime.p95_s, { decimals: 1 })} s`,
                  ],
                ]
              : []),
          ],
        },
      },
      ...paretoBlocks(voidsByCause, {
        title: "Tests without a valid measurement, by cause",
        name: "cause",
        of: "void tests",
      }),
    ],
  };
}

/** Whether the station could be trusted, and when it stood still. */
export function stationSection({
  asked,
  referenceChecks,
  downTime,
  down_s,
  limitRevisions,
}: YieldReport): DocumentSection {
  const zone = asked.timeZone;
  const blocks: DocumentBlock[] = [
    referenceChecks.length === 0
      ? { kind: "text", text: "No reference piece was checked." }
      : {
          kind: "table",
          table: {
            caption: "Reference checks",
            columns: [
              text("piece"),
              text("model"),
              number("passed"),
              number("failed"),
              number("void"),
              text("last"),
              text("verdict"),
              number("measured"),
              number("certified"),
              text("unit"),
            ],
            rows: referenceChecks.map(({ serial, model, passed, failed, voids, last }) => [
              serial,
              model,
              String(passed),
              String(failed),
              String(voids),
              last ? plantTime(last.at, zone) : "never",
              last?.verdict ?? "",
              last === null || last.measured === null ? "" : formatNumber(last.measured, { significant: 4 }),
              last
                ? `${formatNumber(last.certified, { significant: 4 })} ± ${formatNumber(last.tolerance, { significant: 4 })}`
                : "",
              last?.unit ?? "",
            ]),
          },
        },
    downTime.length === 0
      ? { kind: "text", text: "No fault stopped the station." }
      : {
          kind: "table",
          table: {
            caption: `Faults, the longest down time first${
              down_s === null
                ? ""
                : `; ${formatNumber(down_s / 60, { decimals: 1 })} min in all, faults at the same time counted once`
            }`,
            columns: [
              text("fault"),
              number("times"),
              number("down, min"),
              text("last"),
              text("what was said"),
            ],
            rows: downTime.map(({ code, sentence, count, down_s, last_at }) => [
              code,
              String(count),
              formatNumber(down_s / 60, { decimals: 1 }),
              plantTime(last_at, zone),
              sentence,
            ]),
          },
        },
    ...(limitRevisions.length === 0
      ? []
      : [
          {
            kind: "table" as const,
            table: {
              caption: "Limit revisions that judged",
              columns: [
                text("model"),
                number("revision"),
                number("tests"),
                text("from"),
                text("to"),
                text("SHA-256 begins"),
              ],
              rows: limitRevisions.map(({ model, revision, sha256, first_at, last_at, tests }) => [
                model,
                String(revision),
                String(tests),
                plantTime(first_at, zone),
                plantTime(last_at, zone),
                sha256.slice(0, 12),
              ]),
            },
          },
        ]),
  ];
  return { heading: "The station", blocks };
}
