"""Where published values come from; ``from_memory`` marks what was recalled, not read again.

``derived`` marks values that were recomputed from the stated formula.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A publication or rule, and how well its figures are known."""

    name: str
    from_memory: bool = False


def _read(name: str) -> Source:
    return Source(name=name)


def _recalled(name: str) -> Source:
    return Source(name=name, from_memory=True)


# optics and arithmetic: recalled formulas recomputed for every value
GOODMAN = _recalled("Goodman, Introduction to Fourier Optics, ch. 6 (closed form, recomputed)")
HOPKINS = _recalled("Hopkins 1955, transfer of a defocused round pupil (integral, recomputed)")
RAYLEIGH = _recalled("Rayleigh's quarter wave, D = 2 wavelength / p^2 (recomputed)")
SMITH_DISC = _recalled("Smith, Optometry Today 1996;36(17):22-27: blur disc p D (recomputed)")
THIBOS_VECTORS = _recalled("Thibos, Wheeler & Horner, Optom Vis Sci 1997;74:367-375 (recomputed)")
TRIAL_LENSES = _read("published worked crossed cylinders, to 0.02 D")
HARRIS = _read("Harris, S Afr Optom 2007;66:41-55: cross cylinder on a circle (recomputed)")
MUNOZ = _read("Munoz-Escriva & Furlan, Ophthalmic Physiol Opt 2001;21:327 (F u, recomputed)")
VERTEX = _read("Fc = F/(1 - dF), contact lens vertex tables (recomputed)")
VERGENCE = _read("vergence of a near object, 1/d stepped to the cornea (recomputed)")
THIBOS_ZERNIKE = _read("Thibos et al., J Vision 2004;4:329-351 (recomputed)")
ISO_8596 = _read("ISO 8596: a letter of five strokes, 1 minute at 1.0 (recomputed)")
BAILEY_LOVIE = _read("Bailey & Lovie, Am J Optom Physiol Opt 1976;53:740-745")
THIBOS_COLOUR = _recalled("Thibos, Ye, Zhang & Bradley, Appl Opt 1992;31:3594 (zero at 590 nm)")
CIE_V = _recalled("CIE 1924 photopic luminous efficiency (CIE 018:2019)")
STILES_CRAWFORD = _recalled("Applegate & Lakshminarayanan, JOSA A 1993;10:1611: 0.05 base 10")
WATSON_PUPIL = _read("Watson & Yellott, J Vision 2012;12(10):12, Eq. 21 (recomputed)")
ANDERSON = _read("Anderson et al., IOVS 2008;49:2919-2926, sigmoid (recomputed)")

# eyes
THIBOS_EYES = _read("Thibos, Bradley & Hong, Ophthalmic Physiol Opt 2002;22:427-433 (200 eyes)")
SALMON = _read("Thibos 2002 and Salmon & van de Pol, J Cataract Refract Surg 2006;32:2064")
WATSON_MTF = _read(
    "Watson, J Vision 2013;13(6):18: mean MTF of 200 eyes (formula; white light: memory)"
)
BERRIO = _read("Berrio, Tabernero & Artal, J Vision 2010;10(14):34")

# letters read
YOUNG_EYES = _read("two age groups, J Vision (12 eyes of 26.9 years): -0.125")
ELLIOTT = _read("Elliott, Yang & Whitaker, Optom Vis Sci 1995;72:186-191 (25 to 29 years)")
OLD_EYES = _read("two age groups, J Vision (12 eyes of 72.7 years): -0.046")
ELLIOTT_OLD = _read("Elliott, Yang & Whitaker, Optom Vis Sci 1995;72:186-191 (above 75 years)")
SPHERE_MODELS = _recalled("mean of Blendowske 2015 and 0.65 p D (Smith 1991)")
OLD_AND_BLENDOWSKE = _read("mean of the 1945 chart and Blendowske, Optom Vis Sci 2015;92:e121")
SANTOS = _read("Santos et al. (PERK), Arch Ophthalmol 1987;105:86-92 (56 eyes)")
JOHNSON = _read("Johnson & Casson, Optom Vis Sci 1995;72:864-869 (steep to 2 D, then less)")
HOSHIKAWA = _read("Hoshikawa et al., Sci Rep 2021;11:6958 (318 eyes)")
REMON = _read("Remon, Monsoriu & Furlan, J Optom 2017;10:141-148")
NEAR_AND_FAR = _read("lens-induced astigmatism, Clin Optom 2023;15:105-117: 0.22 and 0.18 a DC")
SHA = _read("Sha et al., Clin Optom 2019;11:27-38 (0.50 DC negligible)")
OLD_TABLE = _read("table of 6000 refractions quoted in Br J Ophthalmol, lessened like its spheres")
ATCHISON_PUPIL = _read("Atchison, Smith & Efron, Am J Optom Physiol Opt 1979;56:315-323")
XU = _read("Xu, Thibos & Bradley, Optom Vis Sci 2016;93:1409-1419")
TABERNERO = _read("Tabernero et al., IOVS 2011;52:5273-5277")
HICKENBOTHAM = _read("Hickenbotham et al., J Cataract Refract Surg 2012 (aberrations corrected)")
PINHOLE = _read("Atchison 1979, loosened by what the light lost through the hole costs")
DALIMIER = _read("Bayesian acuity model, J Vision 2009;9(7):12: single aberrations soften the fall")
SIGNS = _read("20 cyclopleged eyes, ARVO abstract: +0.50 and -0.32 logMAR a dioptre")
SLOAN_SLOPE = _read("probit SD of Sloan letters, PubMed 28211180 (0.064 to 0.09)")
BLURRED_SLOPE = _read("slope constant with 1.5 and 3.0 D of blur, PubMed 4083332")
SHEEDY = _read("Sheedy 1984: 0.02 logMAR a doubling of light")

# clarity and focus
ATCHISON_BLUR = _read("Atchison et al., Vision Res 2005;45:1967-1974 (noticeable blur)")
ATCHISON_DEPTH = _read("Atchison, Charman & Woods, Optom Vis Sci 1997;74:511-520")
JACOBS = _read("Jacobs, Smith & Chan 1989 to Wang & Ciuffreda 2005: 0.05 to 0.48 D")
