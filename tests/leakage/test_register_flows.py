"""Sum of register flows and its uncertainty."""

import numpy as np
import pytest

from agency.leakage.errors import LeakageError
from agency.leakage.register_flows import share_of_design, total_flow, total_uncertainty


def test_two_registers_by_hand():
    """JCGM 100:2008, 5.2.2, from memory: 100 and 100 with 5 % shared and 2 % of each reading,
    sqrt(10² + 2² + 2²) = 10.392."""
    u = total_uncertainty(flows=[100.0, 100.0], u_hood=0.05, u_reading=0.02)
    assert u == pytest.approx(10.392, abs=5e-4)


def test_a_shared_error_does_not_average_out():
    """Derived: n equal flows keep the hood's relative error; their own falls with sqrt(n)."""
    flows = np.full(25, 0.04)
    shared = total_uncertainty(flows=flows, u_hood=0.06, u_reading=0.0)
    own = total_uncertainty(flows=flows, u_hood=0.0, u_reading=0.06)
    assert shared / flows.sum() == pytest.approx(0.06)
    assert own / flows.sum() == pytest.approx(0.06 / 5)


def test_one_unread_register_leaves_no_total_and_zero_is_a_reading():
    assert total_flow([0.05, None]) is None
    assert total_flow([]) is None
    assert total_flow([0.05, 0.0]) == 0.05


@pytest.mark.parametrize("flows", [[-0.01, 0.05], [float("nan")], [float("inf")]])
def test_what_no_hood_reads_is_refused(flows):
    with pytest.raises(LeakageError, match="Flow of a register"):
        total_flow(flows)


def test_share_of_design():
    assert share_of_design(flow=[0.04, 0.05], design=0.05) == pytest.approx([0.8, 1.0])
    with pytest.raises(LeakageError, match="Design flow"):
        share_of_design(flow=0.04, design=0.0)
