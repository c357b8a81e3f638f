// Where things are: rows down the page, minutes across it.

const ROW = 30;
const BAR = 22;
const HEADING = 20;
const LANES_MAX = 260;

export class Layout {
  constructor(chart) {
    this.chart = chart;
    this.span = [chart.from_min, Math.max(chart.until_min, chart.from_min + 1440)];
    this.from = this.span[0];
    this.to = this.span[1];
    this.width = 600;
    this.twoWeeks();
  }

  twoWeeks() {
    this.look(this.chart.from_min, this.chart.from_min + 14 * 1440);
  }

  // Show [from, to), at least two hours, kept near what there is to see.
  look(from, to) {
    const whole = this.span[1] - this.span[0];
    const size = Math.min(Math.max(to - from, 120), Math.max(whole, 14 * 1440) + 1440);
    const least = this.span[0] - 720;
    const most = Math.max(least, this.span[1] + 720 - size);
    this.from = Math.min(Math.max(from, least), most);
    this.to = this.from + size;
  }

  zoom(factor, at = (this.from + this.to) / 2) {
    this.look(at - (at - this.from) * factor, at + (this.to - at) * factor);
  }

  pan(minutes) {
    this.look(this.from + minutes, this.to + minutes);
  }

  get names() {
    return Math.round(Math.min(150, Math.max(76, this.width * 0.16)));
  }

  get scale() {
    return (this.width - this.names) / (this.to - this.from);
  }

  x(minute) {
    return this.names + (minute - this.from) * this.scale;
  }

  minute(x) {
    return this.from + (x - this.names) / this.scale;
  }

  // Rows to show, with a heading before each group; returns the height in CSS pixels.
  place(shown) {
    this.rows = [];
    this.headings = [];
    let y = 0;
    let group = null;
    this.chart.rows.forEach((row, index) => {
      if (!shown(index)) return;
      if (row.group !== group) {
        group = row.group;
        this.headings.push({ y, text: group });
        y += HEADING;
      }
      const lane = row.lanes > 1 ? Math.min(16, Math.max(5, LANES_MAX / row.lanes)) : ROW;
      const height = row.lanes > 1 ? lane * row.lanes + 8 : ROW;
      this.rows[index] = { y, height, lane, bar: row.lanes > 1 ? Math.max(4, lane - 3) : BAR };
      y += height;
    });
    return Math.max(y, 60);
  }

  // Box of a bar in CSS pixels from the canvas corner; null where its row is not shown.
  box(bar) {
    const row = this.rows[bar.row];
    if (!row) return null;
    const x = this.x(bar.start);
    const pad = row.lane === ROW ? (ROW - BAR) / 2 : 4 + 1.5;
    return {
      x,
      y: row.y + pad + (row.lane === ROW ? 0 : bar.lane * row.lane),
      width: Math.max(2, this.x(bar.end) - x),
      height: row.bar,
    };
  }
}
