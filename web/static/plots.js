// What all graphs have in common: no bar of buttons, nothing sent anywhere, the pages' own letters.

export const CONFIG = { displaylogo: false, showSendToCloud: false, displayModeBar: false, responsive: true };
export const FONT = { family: "system-ui, 'Segoe UI', Roboto, 'Noto Sans', sans-serif", color: "#22302f", size: 13 };
