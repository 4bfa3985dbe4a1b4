"""Why a finding is as wide, as short or as missing as it is: codes, which a later stage puts into words."""

from enum import StrEnum


class Reason(StrEnum):
    """One code a cause. A code is its own value, so it can be printed, stored and looked up as text."""

    # summaries
    ONE_SPECIMEN = "one_specimen"  # no spread of its own: repeatability is unknown, or comes from the round
    TOO_FEW_SPECIMENS = "too_few_specimens"  # fewer than the statement needs
    ALL_EQUAL = "all_equal"  # readings don't differ: the instrument's resolution carries the uncertainty
    POOLED_SPREAD = "pooled_spread"  # repeatability is the instrument's, from all that was repeated on it
    MEDIAN_IS_A_PAIR = "median_is_a_pair"  # even number of grades with different middle ones

    # curves
    ENDS_ABOVE = "ends_above"  # the record stops before the share is reached
    NOT_CONFIRMED = "not_confirmed"  # only the very last point is at or below the share
    DIPPED_BEFORE = "dipped_before"  # a single point fell below earlier and came back
    ROSE_AGAIN = "rose_again"  # the curve came back above the share after the run time
    STEPS_FOLLOW_A_SLOPE = "steps_follow_a_slope"  # so many short steps that the curve is no staircase

    # stages
    NO_COMMON_SPECIMENS = "no_common_specimens"
    SPECIMENS_LEFT_OUT = "specimens_left_out"  # present at one stage only
    SPECIMENS_UNMARKED = "specimens_unmarked"  # no marks: they can't be found again at the other stage
    READING_OF_ZERO = "reading_of_zero"  # no share of nothing
    CANNOT_REACH_5_PERCENT = "cannot_reach_5_percent"  # even the clearest outcome of so few can't
    TOO_FEW_STAGES = "too_few_stages"
    NEVER_FELL = "never_fell"  # not within the washes done
    BELOW_FROM_THE_START = "below_from_the_start"
    LEVEL_BELOW_95 = "level_below_95"  # the interval's confidence is the best so few can give

    # claims
    INSIDE_GUARD_BAND = "inside_guard_band"
    NO_UNCERTAINTY = "no_uncertainty"
    TOLERANCE_FROM_DIGITS = "tolerance_from_digits"  # none stated: half the last digit of the claim
    NO_TOLERANCE_NEEDED = "no_tolerance_needed"  # a bound without tolerance is taken at its word
    TOLERANCE_BELOW_UNCERTAINTY = "tolerance_below_uncertainty"  # no reading could ever confirm it
    CLAIM_IS_ZERO = "claim_is_zero"  # a difference in per cent of nothing
    MAY_MISS_MORE = "may_miss_more"  # what so few specimens allow to miss it is no small share
    BEYOND_A_LIMIT = "beyond_a_limit"  # readings beyond a limit or at the end of the rig: decided on the bounds
    SOME_BELOW = "some_below"
    SOME_ABOVE = "some_above"

    # figures of different methods
    SAME_METHOD = "same_method"
    SAME_SCALE = "same_scale"  # grade and rating of one picture chart
    OTHER_CONDITIONS = "other_conditions"
    OTHER_MEASURAND = "other_measurand"
    OTHER_VAPOUR_METHOD = "other_vapour_method"
    OTHER_PRESSURE = "other_pressure"
    OTHER_RATE = "other_rate"
    OTHER_SHARE = "other_share"
    UNKNOWN_METHOD = "unknown_method"
