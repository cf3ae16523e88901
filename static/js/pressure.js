// Beside each pressure that is typed, the same pressure in the other unit.

const WORDS = { Pa: "Pa", inH2O: "in. w.c." };
const DECIMALS = { Pa: 1, inH2O: 3 };
const MINUS = "\u2212";

const chosen = document.querySelector("[data-pressure-unit]");

function twin(text, unit, inch) {
  const plain = text.trim().replace(MINUS, "-");
  if (!/^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain)) {
    return "";
  }
  const other = unit === "Pa" ? "inH2O" : "Pa";
  const value = unit === "Pa" ? Number(plain) / inch : Number(plain) * inch;
  return `= ${value.toFixed(DECIMALS[other]).replace("-", MINUS)} ${WORDS[other]}`;
}

function shown(input) {
  const entry = input.parentElement;
  let output = entry.querySelector(".field__twin");
  if (!output) {
    output = document.createElement("output");
    output.className = "field__twin";
    output.htmlFor.add(input.id);
    entry.append(output);
  }
  return output;
}

function refresh() {
  const unit = chosen ? chosen.value : "Pa";
  for (const input of document.querySelectorAll("[data-pressure]")) {
    shown(input).textContent = twin(input.value, unit, Number(input.dataset.pressure));
    const word = input.parentElement.querySelector("[data-pressure-word]");
    if (word) {
      word.textContent = WORDS[unit];
    }
  }
}

document.addEventListener("input", refresh);
document.addEventListener("change", refresh);
document.addEventListener("DOMContentLoaded", refresh);
