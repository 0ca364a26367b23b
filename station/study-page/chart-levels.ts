import type { ChartLevel } from "../quality/study-report.ts";
import { shortened, spreadApart } from "./chart-frame.ts";
import { type Layout, WIDTH_px } from "./chart-layout.ts";
import { FONT, LEVEL_LOOKS } from "./chart-looks.ts";

/** Lines straight across, named at their end; names that would lie upon one another are moved apart. */
export function levelsOption(levels: readonly ChartLevel[], layout: Layout): object {
  const { left, right, top, bottom, height_px, x, y, isDownward } = layout;
  const inner = { left, right: WIDTH_px - right, top, bottom: height_px - bottom };
  const across = (at: number) => {
    const part = (at - y.min) / (y.max - y.min);
    return isDownward
      ? inner.top + part * (inner.bottom - inner.top)
      : inner.bottom - part * (inner.bottom - inner.top);
  };
  const upright = (at: number) => inner.left + ((at - x.min) / (x.max - x.min)) * (inner.right - inner.left);
  const places = levels.map(({ along, at }) => (along === "y" ? across(at) : upright(at)));
  const ofY = levels.flatMap(({ along }, k) => (along === "y" ? [k] : []));
  const ofX = levels
    .flatMap(({ along }, k) => (along === "x" ? [k] : []))
    .sort((a, b) => (places[a] ?? 0) - (places[b] ?? 0));
  const spread = spreadApart(
    ofY.map((k) => places[k] ?? 0),
    12,
  );
  return {
    type: "custom",
    name: "",
    silent: true,
    clip: false,
    z: 5,
    data: levels.map((_, k) => [k]),
    renderItem: (_: unknown, api: { value(dimension: number): number }) => {
      const k = api.value(0);
      const level = levels[k];
      if (!level) return null;
      const place = places[k] ?? 0;
      const { colour, dash, width } = LEVEL_LOOKS[level.means];
      const isAcross = level.along === "y";
      const labelAt = isAcross
        ? { x: inner.right + 5, y: spread[ofY.indexOf(k)] ?? place }
        : {
            x: Math.min(Math.max(place, inner.left + halfOf(level.label)), WIDTH_px - 60),
            y: inner.top - 8 - 13 * (ofX.indexOf(k) % 3),
          };
      return {
        type: "group",
        children: [
          {
            type: "line",
            shape: isAcross
              ? { x1: inner.left, x2: inner.right, y1: place, y2: place }
              : { x1: place, x2: place, y1: labelAt.y + 6, y2: inner.bottom },
            style: { stroke: colour, lineWidth: width, ...(dash === "solid" ? {} : { lineDash: [...dash] }) },
          },
          {
            type: "text",
            style: {
              text: shortened(level.label, isAcross ? 24 : 40),
              ...labelAt,
              fill: colour,
              font: `11px ${FONT}`,
              textAlign: isAcross ? "left" : "center",
              textVerticalAlign: "middle",
            },
          },
        ],
      };
    },
  };
}

/** Half the width of a name, about: one at the left end stands beside the axis' numbers, not on them. */
function halfOf(label: string): number {
  return (shortened(label, 40).length * LETTER_px) / 2;
}

const LETTER_px = 6;
