import type { ChartArea } from "../quality/study-report.ts";
import { type Layout, WIDTH_px } from "./chart-layout.ts";
import { FONT, INK } from "./chart-looks.ts";

const HATCH_px = 5;
const LEAST_px = 1;

interface Box {
  readonly x1: number;
  readonly x2: number;
  readonly y1: number;
  readonly y2: number;
}

/**
 * Hatched ranges, named at their upper left end; rungs need no clipping, and every printer has them. The names stand above
 * bars, edged with white, or a bar would hide them.
 */
export function areasOptions(areas: readonly ChartArea[], layout: Layout): readonly object[] {
  const { left, right, top, bottom, height_px, x, y, isDownward } = layout;
  const inner = { left, right: WIDTH_px - right, top, bottom: height_px - bottom };
  const placeOf = (along: "x" | "y", at: number) => {
    if (along === "x") return inner.left + ((at - x.min) / (x.max - x.min)) * (inner.right - inner.left);
    const part = (at - y.min) / (y.max - y.min);
    const height = inner.bottom - inner.top;
    return isDownward ? inner.top + part * height : inner.bottom - part * height;
  };
  const boxOf = ({ along, from, to }: ChartArea): Box => {
    const [begin = 0, end = 0] = [placeOf(along, from), placeOf(along, to)].sort((a, b) => a - b);
    return along === "x"
      ? { x1: begin, x2: Math.max(end, begin + LEAST_px), y1: inner.top, y2: inner.bottom }
      : { x1: inner.left, x2: inner.right, y1: begin, y2: Math.max(end, begin + LEAST_px) };
  };
  const drawn = (z: number, of: (area: ChartArea, box: Box) => object) => ({
    type: "custom",
    name: "",
    silent: true,
    clip: false,
    z,
    data: areas.map((_, k) => [k]),
    renderItem: (_: unknown, api: { value(dimension: number): number }) => {
      const area = areas[api.value(0)];
      return area ? of(area, boxOf(area)) : null;
    },
  });
  return [
    drawn(1, (_, box) => {
      const rungs = Math.floor((box.y2 - box.y1) / HATCH_px);
      const style = { stroke: INK, lineWidth: 0.6, opacity: 0.55 };
      return {
        type: "group",
        children: Array.from({ length: rungs + 1 }, (_, k) => {
          const at = box.y1 + k * HATCH_px;
          return { type: "line", shape: { x1: box.x1, x2: box.x2, y1: at, y2: at }, style };
        }),
      };
    }),
    drawn(4, ({ label, along }, box) => ({
      type: "text",
      style: {
        text: label,
        x: along === "x" ? box.x1 - 4 : box.x1 + 4,
        y: box.y1 + 7,
        fill: INK,
        font: `11px ${FONT}`,
        textAlign: along === "x" ? "right" : "left",
        textVerticalAlign: "middle",
        stroke: "#fff",
        lineWidth: 3,
      },
    })),
  ];
}
