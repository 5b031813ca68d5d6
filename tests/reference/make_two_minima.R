# R's answer where the criterion has two minima (five horses, 37 feet, 22 visits; data/two_minima.csv, random numbers).
# Run in tests/reference: Rscript make_two_minima.R  (r-cran-lme4, jsonlite)
library(lme4)
library(jsonlite)

data <- read.csv("data/two_minima.csv")
for (name in c("horse", "foot", "visit")) data[[name]] <- factor(data[[name]])
criterion <- lmer(y ~ 1 + (1 | foot) + (1 | horse) + (1 | visit), data, devFunOnly = TRUE)
starts <- list(c(0.1, 0.1, 2.5), c(0.1, 2.5, 0.1), c(2.5, 0.1, 0.1), c(1, 1, 1), c(0.1, 2, 1.5))
ends <- lapply(starts, function(from) {
  optim(from, criterion, method = "L-BFGS-B", lower = 0, control = list(factr = 10, maxit = 1000))$value
})
ends <- sort(unlist(ends))
answer <- list(R = R.version.string, lme4 = as.character(packageVersion("lme4")), ends = ends)
writeLines(toJSON(answer, digits = NA, auto_unbox = TRUE), "two_minima.json")
print(ends, digits = 12)
