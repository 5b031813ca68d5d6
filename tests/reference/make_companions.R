# R's answers for what stands beside a fit: cluster-robust standard errors, and every yard left out in turn.
# Run in tests/reference: Rscript make_companions.R  (r-cran-lme4, lmertest, pbkrtest, clubsandwich, jsonlite)
suppressMessages({library(jsonlite); library(lme4); library(pbkrtest); library(clubSandwich)})
tight <- lmerControl(optimizer = "bobyqa", calc.derivs = FALSE, optCtrl = list(rhoend = 1e-12, maxfun = 1e5), check.conv.singular = "ignore")
robust <- function(fit, cluster) {
  v <- if (is.null(cluster)) vcovCR(fit, type = "CR2") else vcovCR(fit, cluster = cluster, type = "CR2")
  t <- coef_test(fit, vcov = v, test = "Satterthwaite")
  list(estimate = t$beta, std_error = t$SE, df = t$df_Satt, p = t$p_Satt)
}
read <- function(file) read.csv(file, stringsAsFactors = TRUE)

s <- read("data/sing_both0_pub.csv")
s$horse <- factor(s$horse)
least <- lm(y ~ diet + limb + trim, s)

d <- read.csv("data/default_model.csv", colClasses = c(yard = "character", horse = "character", foot = "character", visit = "character"), na.strings = "")
d <- d[!is.na(d$underrun), ]
f <- underrun ~ concentrate + pasture + trim + (1 | yard) + (1 | yard:horse) + (1 | yard:horse:foot) + (1 | yard:horse:visit)
whole <- lmer(f, d, control = tight)
horses <- lmer(underrun ~ concentrate + trim + (1 | horse), d, control = tight)

without <- lapply(sort(unique(d$yard)), function(yard) {
  fit <- lmer(f, d[d$yard != yard, ], control = tight)
  v <- as.data.frame(VarCorr(fit))
  list(yard = yard, estimate = unname(fixef(fit)), std_error = unname(sqrt(diag(as.matrix(vcovAdj(fit))))),
       variances = as.list(setNames(v$vcov, v$grp)))
})
out <- list(R = R.version.string, lme4 = as.character(packageVersion("lme4")), pbkrtest = as.character(packageVersion("pbkrtest")),
  clubSandwich = as.character(packageVersion("clubSandwich")),
  least_squares = c(list(formula = "y ~ diet + limb + trim, clusters: horse"), robust(least, s$horse)),
  yards = c(list(formula = paste(deparse(f), collapse = "")), robust(whole, d$yard)),
  horses = c(list(formula = "underrun ~ concentrate + trim + (1 | horse)"), robust(horses, NULL)),
  without_yard = without)
write(toJSON(out, digits = NA, auto_unbox = TRUE, pretty = TRUE), "companions.json")
