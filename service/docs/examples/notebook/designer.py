# %% [markdown]
# # A gearbox designer's notebook
#
# The output shaft of a mixer gearbox: 60 mm, up to 900 turns a minute, gear oil. **The gearbox is invented.** Every number below is
# an engineering estimate, to be proved by test on the real hardware; local codes and a licensed engineer decide.
#
# The client runs the service in this process. With one that runs elsewhere, write `GlandwiseClient("http://host:8710")` instead.

# %%
import matplotlib.pyplot as plt
from glandwise_client import GlandwiseClient

client = GlandwiseClient.in_process()
duty = {
    "shaft_diameter": "60 mm",
    "motion": {"kind": "rotation", "rotational_speed": "450 rpm"},
    "pressure": "0.3 bar",
    "temperature": {"minimum": "-10 degC", "normal": "70 degC", "maximum": "95 degC"},
    "fluid": "mineral_oil_gear",
    "application": "gearbox",
    "contaminants": "dusty",
    "runout": "0.10 mm",
    "offset": "0.10 mm",
    "shaft": {"material": "steel_hardened", "roughness": "0.3 um", "machining_lead": "none"},
}

# %% [markdown]
# ## Which seal would live there?

# %%
answer = client.answer_enquiry(duty=duty)
print(answer.verdict, "-", answer.title)
print(answer.summary)

# %% [markdown]
# What has to stand on the drawing of the hardware for that to hold:

# %%
for item in answer.requirements:
    print("-", item.text)

# %% [markdown]
# The seal to scale, in its gland and as made:

# %%
client.drawing("answer_enquiry", duty=duty, design=answer.design)

# %% [markdown]
# ## Torque, temperature and film over the speed
#
# Friction falls as a film comes to carry the lip, and rises again with the shear of the oil: a Stribeck curve. Heat follows.

# %%
speeds = [0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 450, 900, 1500]
levels = []
for speed in speeds:
    turning = {**duty, "motion": {"kind": "rotation", "rotational_speed": (speed, "rpm")}}
    levels.append(client.estimate_friction(duty=turning, design=answer.design).levels[1])

figure, (left, middle, right) = plt.subplots(1, 3, figsize=(10, 3.2), sharex=True)
left.semilogx(speeds, [level.torque.to("N.m").value for level in levels], "o-")
left.set_ylabel("torque, N·m")
middle.semilogx(speeds, [level.contact_temperature.to("degC").value for level in levels], "o-", color="tab:red")
middle.set_ylabel("contact, °C")
right.semilogx(speeds, [level.film_share for level in levels], "o-", color="tab:green")
right.set_ylabel("share of the load on the film")
for axes in (left, middle, right):
    axes.set_xlabel("turns a minute")
    axes.grid(alpha=0.3)
figure.tight_layout()

# %% [markdown]
# ## How far may it go?
#
# The map of speed and pressure: where the seal lives, and what limits it where.

# %%
client.drawing(
    "map_operation",
    duty=duty,
    design=answer.design,
    x={"kind": "rotational_speed", "points": 25},
    y={"kind": "pressure", "points": 25},
)

# %% [markdown]
# Which of the designs comes next, and what each of them earns:

# %%
client.drawing("select_design", duty=duty, limit=6)

# %% [markdown]
# ## What is not known yet

# %%
print(answer.confidence.text)
for question in answer.questions:
    print("-", question.text, "|", question.reason)

# %%
client.close()
