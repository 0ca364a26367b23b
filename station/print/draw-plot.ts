import { formatNumber } from "../../limits/print-quantity.ts";
import type { LeakPlot, PlotPoint } from "./leak-plot.ts";
import type { Area, Paper, Point } from "./paper.ts";

const LINES = 4;

/** Draws the pressure of a leak step over time with the curve at its limit dashed, black on white. */
export function drawLeakPlot(
  paper: Paper,
  plot: LeakPlot,
  { x, y, width, height }: Area,
  size: number,
): void {
  const text = { size: size * 0.9, colour: "grey" } as const;
  const title = `${plot.step}: pressure after the shut-off, Pa`;
  paper.fitted(title, x, y, width, { size, weight: "strong" });
  const all = [...plot.curve, ...plot.atLimit];
  const pressures = ticks(range(all.map(({ pressure_Pa }) => pressure_Pa)));
  const toTime = Math.max(...plot.curve.map(({ t_s }) => t_s));
  const times = ticks({ from: 0, to: toTime }).filter((t_s) => t_s <= toTime);
  const labels = pressures.map((value) => formatNumber(value, { significant: 8 }));
  const left = Math.max(...labels.map((label) => paper.widthOf(label, text))) + 1;
  const legendHeight = size * 1.5;
  const area = {
    x: x + left,
    y: y + size * 1.6,
    width: width - left - 1,
    height: height - size * 1.6 - size * 1.6 - legendHeight,
  };
  const [fromPressure, toPressure] = [pressures[0] ?? 0, pressures.at(-1) ?? 1];
  const at = ({ t_s, pressure_Pa }: PlotPoint): Point => [
    area.x + (area.width * t_s) / toTime,
    area.y + area.height * (1 - (pressure_Pa - fromPressure) / (toPressure - fromPressure)),
  ];
  for (const [i, pressure_Pa] of pressures.entries()) {
    const [, row] = at({ t_s: 0, pressure_Pa });
    paper.line(
      [
        [area.x, row],
        [area.x + area.width, row],
      ],
      0.1,
      "pale",
    );
    const label = labels[i] ?? "";
    paper.lines([label], x, row - text.size * 0.6, left - 1, { ...text, align: "right" });
  }
  for (const t_s of times) {
    const [column] = at({ t_s, pressure_Pa: fromPressure });
    paper.line(
      [
        [column, area.y + area.height],
        [column, area.y + area.height + 0.7],
      ],
      0.15,
      "grey",
    );
    const label = `${formatNumber(t_s, { significant: 6 })} s`;
    const wide = paper.widthOf(label, text);
    const middle = Math.min(column - wide / 2, x + width - wide);
    paper.lines([label], middle, area.y + area.height + 0.8, wide, text);
  }
  if (plot.measured) {
    for (const t_s of [plot.measured.from_s, plot.measured.to_s].filter((one) => one <= toTime)) {
      const [column] = at({ t_s, pressure_Pa: fromPressure });
      paper.line(
        [
          [column, area.y],
          [column, area.y + area.height],
        ],
        0.12,
        "grey",
        0.5,
      );
    }
  }
  paper.frame(area, 0.12, "grey");
  paper.line(plot.curve.map(at), 0.3, "black");
  paper.line(plot.atLimit.map(at), 0.3, "black", 1);
  const legend = [
    "line: this body",
    ...(plot.limit === null ? [] : [`dashed: the same body, had it leaked at the limit of ${plot.limit}`]),
    ...(plot.measured ? ["dotted: measured from and to"] : []),
  ].join("; ");
  paper.fitted(legend, x, y + height - legendHeight, width, text);
}

interface Range {
  readonly from: number;
  readonly to: number;
}

function range(values: readonly number[]): Range {
  const [from, to] = [Math.min(...values), Math.max(...values)];
  const room = Math.max((to - from) * 0.05, 0.5);
  return { from: from - room, to: to + room };
}

/** Round numbers around a range, a handful of them. @example ticks({ from: 0, to: 6.3 }) // [0, 2, 4, 6, 8] */
function ticks({ from, to }: Range): number[] {
  const rough = (to - from) / LINES;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = ([1, 2, 5, 10].find((one) => one * power >= rough) ?? 10) * power;
  const first = Math.floor(from / step);
  const count = Math.ceil(to / step) - first;
  return Array.from({ length: count + 1 }, (_, i) => (first + i) * step);
}
