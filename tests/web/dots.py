"""Where a mark's dot lies on the enlarged frame, for whoever moves it in a browser: tests, and bench/drag.py."""

#: Given the mark's number: brought into view, its middle on the screen.
DOT = """(number) => {
  const links = [...document.querySelectorAll('[data-trial] a.pick')];
  const link = links.find((a) => a.getAttribute('href').includes(`mark=${number}#`));
  link.scrollIntoView({ block: 'center', inline: 'center' });
  const box = link.querySelector('circle').getBoundingClientRect();
  return [box.x + box.width / 2, box.y + box.height / 2];
}"""
