// Beside each pressure that is typed, the same pressure in the other unit.

const WORDS = { Pa: "Pa", inH2O: "in. w.c." };
const DECIMALS = { Pa: 1, inH2O: 3 };
const MINUS = "\u2212";

const factors = Object.fromEntries(
  [...document.querySelectorAll("[data-unit]")].map((one) => [one.dataset.unit, Number(one.dataset.factor)]),
);
const chosen = document.querySelector("[data-pressure-unit]");

function twin(text, unit) {
  const other = unit === "Pa" ? "inH2O" : "Pa";
  const plain = text.trim().replace(MINUS, "-");
  if (!/^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain)) {
    return "";
  }
  const value = (Number(plain) * factors[unit]) / factors[other];
  return `= ${value.toFixed(DECIMALS[other]).replace("-", MINUS)} ${WORDS[other]}`;
}

function refresh() {
  for (const input of document.querySelectorAll("[data-pressure]")) {
    const entry = input.parentElement;
    entry.querySelector("[data-pressure-twin]").textContent = twin(input.value, chosen.value);
    entry.querySelector("[data-pressure-word]").textContent = WORDS[chosen.value];
  }
}

if (chosen) {
  document.addEventListener("input", refresh);
  refresh();
}
