// Numbers as people read them, in metric or imperial units.

let imperial = false;

export function setImperial(on) { imperial = on; }
export function isImperial() { return imperial; }

const KINDS = {
  degC: { unit: ["°C", "°F"], to: (v) => v * 1.8 + 32, digits: [0, 0] },
  K: { unit: ["K", "F deg"], to: (v) => v * 1.8, digits: [1, 1] },
  W: { unit: ["W", "Btu/h"], to: (v) => v * 3.412142, digits: [0, 0] },
  "%": { unit: ["%", "%"], to: (v) => v, digits: [1, 1] },
  "km/h": { unit: ["km/h", "mph"], to: (v) => v / 1.609344, digits: [0, 0] },
  "m/s": { unit: ["m/s", "ft/s"], to: (v) => v / 0.3048, digits: [1, 1] },
  m: { unit: ["m", "ft"], to: (v) => v / 0.3048, digits: [0, 0] },
  kPa: { unit: ["kPa", "psi"], to: (v) => v / 6.894757, digits: [1, 2] },
};

const which = () => (imperial ? 1 : 0);

export function unit(kind) { return KINDS[kind] ? KINDS[kind].unit[which()] : kind; }

export function convert(value, kind) {
  const known = KINDS[kind];
  return known && imperial ? known.to(value) : value;
}

/** The other way, for what people type. */
export function parse(value, kind) {
  const known = KINDS[kind];
  if (!known || !imperial) return value;
  const zero = known.to(0);
  return (value - zero) / (known.to(1) - zero);
}

export function number(value, kind, digits) {
  const places = digits ?? (KINDS[kind] ? KINDS[kind].digits[which()] : 1);
  const text = convert(value, kind).toFixed(places);
  return /^-0(\.0*)?$/.test(text) ? text.slice(1) : text.replace("-", "−");
}

export function show(value, kind, digits) { return `${number(value, kind, digits)} ${unit(kind)}`; }

export function signed(value, kind, digits) {
  const text = number(value, kind, digits);
  return /^[−0]/.test(text) && !/^0\.?\d*[1-9]/.test(text) ? text : `+${text}`;
}

export function clock(seconds) {
  const s = Math.round(seconds);
  const two = (n) => String(n).padStart(2, "0");
  const hours = Math.floor(s / 3600);
  const rest = `${two(Math.floor((s % 3600) / 60))}:${two(s % 60)}`;
  return hours ? `${hours}:${rest}` : rest;
}
