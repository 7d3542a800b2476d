"""The work plan on the page: chart, today, yard, what-if, costs."""
