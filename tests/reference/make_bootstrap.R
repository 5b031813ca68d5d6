# make_bootstrap.R -- likelihood-ratio tests and their parametric bootstrap, written to bootstrap.json.
# Run in tests/reference: Rscript make_bootstrap.R   (about ten minutes)
suppressMessages({library(lme4); library(lmerTest); library(pbkrtest); library(jsonlite)})
options(contrasts = c("contr.treatment", "contr.poly"))
tight <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-9), check.conv.singular = "ignore", calc.derivs = FALSE)
fitted_model <- function(formula, data, REML) lme4::lmer(formula, data, REML = REML, control = tight)

## a variance: REML likelihood ratio; simulated under the null model, both refitted to each
variance_test <- function(full, null, data, nsim, seed) {
  lr <- function(large, small) max(0, 2 * (as.numeric(logLik(large)) - as.numeric(logLik(small))))
  large <- fitted_model(full, data, TRUE); small <- fitted_model(null, data, TRUE); observed <- lr(large, small)
  set.seed(seed); drawn <- simulate(small, nsim = nsim)
  ratios <- vapply(drawn, function(y) lr(refit(large, y), refit(small, y)), numeric(1))
  list(statistic = observed, replicates = nsim, p = (1 + sum(ratios >= observed - 1e-6)) / (1 + nsim),
       share_at_zero = mean(ratios < 1e-6))
}
## terms: maximum likelihood ratio; pbkrtest's parametric bootstrap
terms_test <- function(full, null, data, nsim, seed) {
  large <- fitted_model(full, data, FALSE); small <- fitted_model(null, data, FALSE)
  boot <- PBmodcomp(large, small, nsim = nsim, seed = seed, details = 0)
  table <- as.data.frame(boot$test)
  list(statistic = 2 * (as.numeric(logLik(large)) - as.numeric(logLik(small))), df = table["LRT", "df"],
       p_chi_square = table["LRT", "p.value"], replicates = boot$samples[["npos"]], p = table["PBtest", "p.value"])
}
## lmerTest's likelihood-ratio tests of every random term
ranova_of <- function(formula, data) {
  table <- as.data.frame(ranova(lmerTest::lmer(formula, data, control = tight)))[-1, ]
  list(statistic = table[["LRT"]], p_chi_square = table[["Pr(>Chisq)"]], term = rownames(table))
}

read <- function(name, factors) {
  data <- read.csv(file.path("data", name), stringsAsFactors = FALSE)
  for (column in factors) data[[column]] <- factor(data[[column]])
  data
}
beets <- read("beets.csv", c("harvest", "block", "sow"))
pastes <- read("pastes.csv", c("batch", "cask"))
visits <- na.omit(read("cohort_visit_pub.csv", c("horse", "foot", "visit", "diet", "limb")))
yards <- na.omit(read("yard3_pub.csv", c("yard", "horse", "foot", "diet", "terrain", "limb")))

crossed <- y ~ diet + trim + limb + (1 | horse) + (1 | horse:foot) + (1 | horse:visit)
nested <- y ~ diet + terrain + age + mass + trim + limb + (1 | yard / horse / foot)
result <- list(
  R = R.version.string,
  packages = lapply(setNames(nm = c("lme4", "lmerTest", "pbkrtest")), function(p) as.character(packageVersion(p))),
  beets_harvest = terms_test(sugpct ~ block + sow + harvest + (1 | block:harvest), sugpct ~ block + sow + (1 | block:harvest), beets, 10000, 1),
  beets_sow = terms_test(sugpct ~ block + sow + harvest + (1 | block:harvest), sugpct ~ block + harvest + (1 | block:harvest), beets, 4000, 1),
  visits_diet = terms_test(crossed, update(crossed, . ~ . - diet), visits, 500, 1),
  pastes_cask = variance_test(strength ~ 1 + (1 | batch / cask), strength ~ 1 + (1 | batch), pastes, 2000, 1),
  pastes_batch = variance_test(strength ~ 1 + (1 | batch / cask), strength ~ 1 + (1 | batch:cask), pastes, 4000, 1),
  beets_block = variance_test(sugpct ~ sow + harvest + (1 | block / harvest), sugpct ~ sow + harvest + (1 | harvest:block), beets, 4000, 1),
  visits_ranova = ranova_of(crossed, visits),
  yards_ranova = ranova_of(nested, yards)
)
write_json(result, "bootstrap.json", auto_unbox = TRUE, digits = 12, pretty = TRUE)
