// What all graphs have in common: no bar of buttons, nothing sent anywhere, the pages' own letters.

export const CONFIG = { displaylogo: false, showSendToCloud: false, displayModeBar: false, responsive: true };
export const FONT = { family: "system-ui, 'Segoe UI', Roboto, 'Noto Sans', sans-serif", color: "#22302f", size: 13 };
// Along the bottom edge, below whatever room the axis takes: labels that stand upright in a narrow window are not covered.
export const LEGEND = { orientation: "h", yref: "container", y: 0, yanchor: "bottom" };
