import { formatNumber } from "../../../limits/print-quantity.ts";
import type { Figure, StudyTable } from "../study-report.ts";
import type { Agreeing, Agreement } from "./agreement.ts";
import type { Kappa } from "./kappa.ts";
import type { KappaWithInterval } from "./kappa-interval.ts";

interface NamedKappa extends Agreeing {
  readonly name: string;
}

/** All there are, those without a value too. */
export function kappasOf({ within, between, against }: Agreement): NamedKappa[] {
  return [
    ...within.flatMap(({ appraiser, overall }) =>
      overall ? [{ ...overall, name: `${appraiser} within` }] : [],
    ),
    ...(between?.pairs ?? []).map((pair) => ({ ...pair, name: pair.appraisers.join(" x ") })),
    ...(between?.overall ? [{ ...between.overall, name: "all, Fleiss" }] : []),
    ...against.map((one) => ({ ...one, name: `${one.appraiser} x reference` })),
  ];
}

export function kappaTables(found: Agreement): StudyTable[] {
  const kappas = kappasOf(found);
  const categories = kappas[0]?.byCategory.map(({ category }) => category) ?? [];
  const cells = (of: KappaWithInterval) => [shown(of.kappa), shown(of.standardError), kappaInterval(of)];
  return [
    ...(kappas.some(({ kappa }) => kappa !== null)
      ? [
          {
            caption: "How well kappa is known",
            columns: columns("comparison", "kappa", "standard error", "95 % interval"),
            rows: kappas.map((of) => [of.name, ...cells(of)]),
          },
        ]
      : []),
    ...categories.map((category, k) => ({
      caption: `Kappa of ${category} against all other ratings`,
      columns: columns("comparison", "kappa", "standard error", "95 % interval"),
      rows: kappas.flatMap(({ name, byCategory }) => {
        const of = byCategory[k];
        return of ? [[name, ...cells(of)]] : [];
      }),
    })),
  ];
}

function kappaInterval({ CI95 }: KappaWithInterval): string {
  return CI95 ? `${shown(CI95.lower)} to ${shown(CI95.upper)}` : "";
}

export function columns(first: string, ...others: readonly string[]): StudyTable["columns"] {
  return [
    { heading: first, kind: "text" },
    ...others.map((heading) => ({ heading, kind: "number" as const })),
  ];
}

export function kappaFigures({ po, pe, kappa }: Kappa): Record<string, Figure> {
  return { po, pe, kappa };
}

/** How well a kappa is known, and by category. */
export function knownFigures({ standardError, CI95, byCategory }: Agreeing): Record<string, Figure> {
  return {
    kappa_SE: standardError,
    kappa_CI95: CI95 && [CI95.lower, CI95.upper],
    ...(byCategory.length === 0
      ? {}
      : {
          by_category: byCategory.map((of) => ({
            category: of.category,
            ...kappaFigures(of),
            kappa_SE: of.standardError,
            kappa_CI95: of.CI95 && [of.CI95.lower, of.CI95.upper],
          })),
        }),
  };
}

export function shown(value: number | null): string {
  return value === null ? "" : formatNumber(value, { decimals: 3 });
}
