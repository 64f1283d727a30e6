// Numbers as all pages write them: never a zero with a minus before it.
"use strict";

function fixed(value, decimals) {
  const text = value.toFixed(decimals);
  return Number(text) === 0 ? (0).toFixed(decimals) : text;
}
