# R's answers for a covariate that enters as a natural cubic spline or as a polynomial, on the default model's data.
# Run in tests/reference: Rscript make_shapes.R  (r-cran-lme4, pbkrtest, emmeans, jsonlite; splines comes with R)
suppressMessages({library(lme4); library(pbkrtest); library(emmeans); library(splines); library(jsonlite)})
d <- read.csv("data/default_model.csv", colClasses = c(yard = "character", horse = "character", foot = "character", visit = "character"), na.strings = "")
d <- d[!is.na(d$underrun), ]
d$fore_hind <- factor(d$fore_hind, levels = c("fore", "hind"))
groups <- "(1 | yard) + (1 | yard:horse) + (1 | yard:horse:foot) + (1 | yard:horse:visit)"
tight <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhobeg = 0.2, rhoend = 1e-10, maxfun = 1e5), check.conv.singular = "ignore")
inner <- c(42, 56); outer <- c(35, 70)
curve <- sprintf("ns(trim, knots = c(%g, %g), Boundary.knots = c(%g, %g))", inner[1], inner[2], outer[1], outer[2])
fit <- function(fixed, reml) lmer(as.formula(paste("underrun ~", fixed, "+", groups)), d, REML = reml, control = tight)
test <- function(large, small) { k <- KRmodcomp(large, small)$test["Ftest", ]; list(num_df = k$ndf, den_df = k$ddf, f = k$stat, p = k$p.value) }
difference <- function(m, from, to) {
  e <- emmeans(m, "trim", at = list(trim = c(from, to)), lmer.df = "kenward-roger", pbkrtest.limit = 5000)
  s <- summary(contrast(e, list(d = c(-1, 1))), infer = TRUE)
  list(from = from, to = to, estimate = s$estimate, std_error = s$SE, df = s$df, low = s$lower.CL, high = s$upper.CL)
}
answer <- function(shape, straight, without, ends) {
  m <- fit(shape, TRUE); ml <- fit(shape, FALSE)
  list(formula = shape, ml_criterion = -2 * as.numeric(logLik(ml)), variances = as.data.frame(VarCorr(m))[, c("grp", "vcov")],
    fixed_fitted = unname(predict(m, re.form = NA)), shape = test(m, fit(without, TRUE)), nonlinearity = test(m, fit(straight, TRUE)),
    differences = lapply(ends, function(e) difference(m, e[1], e[2])))
}
rest <- "concentrate + fore_hind"
ends <- list(c(42, 63), c(49, 30), c(42, 75))
spline <- answer(paste(curve, "+", rest), paste("trim +", rest), rest, ends)
spline$knots <- c(outer[1], inner, outer[2])
polynomial <- answer(paste("poly(trim, 2) +", rest), paste("trim +", rest), rest, ends)
inter <- paste0(curve, " * fore_hind + concentrate")
interaction <- list(knots = spline$knots, test = test(fit(inter, TRUE), fit(paste(curve, "+", rest), TRUE)),
  simple = lapply(levels(d$fore_hind), function(w) { m <- fit(inter, TRUE)
    e <- emmeans(m, ~ trim * fore_hind, at = list(trim = c(42, 63), fore_hind = w), lmer.df = "kenward-roger", pbkrtest.limit = 5000)
    s <- summary(contrast(e, list(d = c(-1, 1))), infer = TRUE)
    list(at = w, estimate = s$estimate, std_error = s$SE, df = s$df) }))
x <- c(28, 33, 35, 40, 42, 50, 56, 60, 70, 77)
out <- list(R = R.version.string, lme4 = as.character(packageVersion("lme4")), pbkrtest = as.character(packageVersion("pbkrtest")), emmeans = as.character(packageVersion("emmeans")),
  spline = spline, polynomial = polynomial, interaction = interaction,
  basis = list(x = x, knots = spline$knots, ns = unname(unclass(ns(x, knots = inner, Boundary.knots = outer))[, 1:3])))
write(toJSON(out, digits = 12, auto_unbox = TRUE, pretty = FALSE), "shapes.json")
