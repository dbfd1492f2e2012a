import subprocess
import sys

HEAVY = ("scipy", "pandas", "CoolProp", "chemicals", "fluids", "django")
MODULES = ("air_spring", "pressure", "oil", "torque", "seals", "atmosphere")


def test_the_physics_loads_no_heavy_library_and_no_django() -> None:
    """In an interpreter of its own: the solvers that check the physics are not needed to run it."""
    imports = "; ".join(f"import specs.physics.{module}" for module in MODULES)
    listing = f"{imports}; import sys; print([name for name in {HEAVY} if name in sys.modules])"
    ran = subprocess.run([sys.executable, "-c", listing], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
