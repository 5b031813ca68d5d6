# R's answers for the project's default model: yard > horse > foot and horse:visit, on an invented cohort.
# Run in tests/reference: Rscript make_default_model.R  (r-cran-lme4, lmertest, pbkrtest, emmeans, nlme, jsonlite, numderiv)
library(jsonlite)
source("truth_lib.R")
d <- read.csv("data/default_model.csv", colClasses = c(yard = "character", horse = "character", foot = "character", visit = "character", fore_hind = "factor"), na.strings = "")
d <- d[!is.na(d$underrun), ]
f <- underrun ~ concentrate + pasture + trim + fore_hind + (1 | yard) + (1 | yard:horse) + (1 | yard:horse:foot) + (1 | yard:horse:visit)
r <- one_fit(f, d, TRUE, list(list(spec = "fore_hind")))
if (!is.null(r$error)) stop(r$error)
o <- r$out
out <- list(R = R.version.string, lme4 = as.character(packageVersion("lme4")), pbkrtest = as.character(packageVersion("pbkrtest")), formula = paste(deparse(f), collapse = ""),
  n_obs = o$n_obs, n_groups = o$n_groups, coef_names = o$coef_names, beta = o$beta, se = o$se, variances = o$variances, criterion = o$criterion, boundary = o$boundary,
  satterthwaite_df = o$satterthwaite_analytic$df, kenward_roger_se = o$kenward_roger_dense$se, kenward_roger_df = o$kenward_roger_dense$df, pbkrtest_se = o$kenward_roger$se, pbkrtest_df = o$kenward_roger$df,
  tests = lapply(o$anova_type3_kenward_roger, function(t) t[c("NumDF", "DenDF", "F", "p")]), max_scaled_score = o$checks$max_scaled_score)
write(toJSON(out, digits = NA, auto_unbox = TRUE, pretty = TRUE), "default_model.json")
