/* Nothing that a person has to see stays folded away: the place an address names (browsers that do
   not open folds for it by themselves), and words that the browser put back into a form. */

export function openAround(element) {
  for (let fold = element.closest("details"); fold; fold = fold.parentElement.closest("details")) {
    fold.open = true;
  }
}

function openNamed(isArriving) {
  const named = location.hash && document.getElementById(location.hash.slice(1));
  if (isArriving && named?.dataset?.staysFolded !== undefined) {
    named.scrollIntoView(); // what was just saved is done: the next one stands open
  } else if (named && named.closest("details:not([open])")) {
    openAround(named);
    named.scrollIntoView();
  }
}

window.addEventListener("hashchange", () => openNamed(false));

/* By then the browser has put back what was typed. */
window.addEventListener("pageshow", function () {
  for (const field of document.querySelectorAll("details.fold :is(textarea, input[type=text])")) {
    if (field.value !== field.defaultValue) {
      openAround(field);
    }
  }
  openNamed(true);
});
