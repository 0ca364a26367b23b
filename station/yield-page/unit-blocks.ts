import { formatNumber } from "../../limits/print-quantity.ts";
import type { EarlyWarning } from "../quality/early-warning/early-warning.ts";
import type { HeldUnitLine } from "../yield/yield-report.ts";
import type { DocumentSection } from "./page-document.ts";
import { plantTime } from "./plant-time.ts";
import { shownUnit } from "./shown-unit.ts";
import type { YieldDetail } from "./yield-detail.ts";

const text = (heading: string) => ({ heading, kind: "text" as const });
const number = (heading: string) => ({ heading, kind: "number" as const });

const KINDS = { first: "first", retest: "retest", after_rework: "after rework" } as const;

/** Every test that failed, with the way to its traveller. */
export function failuresSection({ failures, failuresLeftOut }: YieldDetail, zone: string): DocumentSection {
  if (failures.length === 0)
    return { heading: "Failures", blocks: [{ kind: "text", text: "No test failed." }] };
  return {
    heading: "Failures",
    blocks: [
      {
        kind: "table",
        table: {
          caption: "Tests that failed, in the order of testing",
          columns: [
            text("serial"),
            text("time"),
            text("model"),
            number("attempt"),
            text("kind"),
            text("failed by"),
            text("first suspect"),
            text("unit now"),
          ],
          rows: failures.map(({ serial, at, model, attempt, kind, failedBy, suspect, now }) => [
            serial,
            plantTime(at, zone),
            model,
            String(attempt),
            KINDS[kind],
            failedBy.join(", "),
            suspect ?? "no rule fits",
            now,
          ]),
          files: failures.map(({ path }) => path),
        },
      },
      ...(failuresLeftOut > 0
        ? [
            {
              kind: "text" as const,
              text: `${failuresLeftOut} more tests failed than there is room for here: ask for fewer days, or for the table (--format csv).`,
            },
          ]
        : []),
    ],
  };
}

export function heldSection(held: readonly HeldUnitLine[], zone: string): DocumentSection[] {
  if (held.length === 0) return [];
  return [
    {
      heading: "Held units",
      blocks: [
        {
          kind: "table",
          table: {
            caption: "Held now: not to be shipped until somebody releases them",
            columns: [text("serial"), text("model"), text("held since"), text("by"), text("reason")],
            rows: held.map(({ serial, model, since, by, reason }) => [
              serial,
              model,
              plantTime(since, zone),
              by ?? "the station",
              reason,
            ]),
          },
        },
      ],
    },
  ];
}

/** Drifts that were noticed, each with where to look first. */
export function warningsSection(
  warnings: readonly EarlyWarning[] | undefined,
  zone: string,
): DocumentSection[] {
  if (warnings === undefined) return [];
  if (warnings.length === 0)
    return [{ heading: "Early warnings", blocks: [{ kind: "text", text: "No drift was signalled." }] }];
  // Each says whom to tell: of what has ended nobody is told any more.
  const standing = warnings.filter(({ ended }) => ended === null).map(({ sentence }) => sentence);
  return [
    {
      heading: "Early warnings",
      blocks: [
        standing.length > 0
          ? { kind: "list", items: standing }
          : { kind: "text", text: "None of these stands any more." },
        {
          kind: "table",
          table: {
            caption: "Drifts, the newest first",
            // Few columns: what changed is what a reader looks for, and must not lie beyond the page's edge.
            columns: [
              text("drift"),
              text("first suspect"),
              text("signalled at"),
              text("medians, before and since"),
              number("shift, standard deviations"),
              text("what changed then"),
              text("state"),
            ],
            rows: warnings.map((it) => [
              `${it.characteristic} of ${it.model}${it.cavity ? `, ${it.cavity.part} ${it.cavity.value}` : ""}, ${it.direction}`,
              `${it.first.serial}, ${plantTime(it.first.at, zone)}`,
              plantTime(it.signalled.at, zone),
              `${formatNumber(it.before, { significant: 4 })} to ${formatNumber(it.since, { significant: 4 })} ${shownUnit(it.unit)}`,
              formatNumber(it.shift_sd, { significant: 2 }),
              changedText(it),
              it.ended ? `ended: ${it.ended.why}, ${plantTime(it.ended.at, zone)}` : "stands",
            ]),
          },
        },
      ],
    },
  ];
}

function changedText({ changed, together }: EarlyWarning): string {
  const parts = changed.map(({ what, from, to }) => `${what} ${from} to ${to}`);
  const others = together.length > 0 ? [`together with ${together.join(", ")}`] : [];
  return [...(parts.length > 0 ? parts : ["nothing that is recorded"]), ...others].join("; ");
}
