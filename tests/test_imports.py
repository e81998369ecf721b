"""What is imported when: help is quick, and measuring waits for no slow library. The layers are import-linter's."""

import subprocess
import sys

SLOW = ("colour", "scipy", "sqlalchemy", "jinja2", "skimage", "reportlab", "pypdfium2", "PIL", "pillow_heif", "rawpy")


def test_the_measuring_road_loads_no_slow_library():
    code = (
        "import sys; from swatchcam.measurement.check import check_photo;"
        "from swatchcam.report.measurement import check_dict;"
        "from swatchcam.report.overlay import draw; import swatchcam.cli.check, swatchcam.cli.measure;"
        f"print([name for name in {SLOW!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_help_loads_neither_numpy_nor_opencv():
    code = (
        "import sys\nfrom swatchcam.cli import main\ntry:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "print([name for name in ('numpy', 'cv2') if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "Usage" in done.stdout
    assert done.stderr.strip() == "[]"
