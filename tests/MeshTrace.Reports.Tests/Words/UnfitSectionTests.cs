using MeshTrace.Reports.Tests.Support;

namespace MeshTrace.Reports.Tests.Words;

/// <summary>Payloads that do not fit their message (Generic OnOff Set: 2 or 4 octets after the opcode, Mesh Model 1.1 §3.2.1.2).</summary>
public sealed class UnfitSectionTests
{
    private readonly Story _story = new();

    [Fact]
    public void TooShortAndTooLong_AreSaid_WithWhoSentThem_AndCounted()
    {
        Say("820201");
        Say("820201");
        Say("8202010203040506");
        string account = Unwrapped();
        Assert.Contains("Generic OnOff Set of 0x0003 (2 times): too short", account, StringComparison.Ordinal);
        Assert.Contains("Generic OnOff Set of 0x0003: too long", account, StringComparison.Ordinal);
    }

    [Fact]
    public void AnOpcodeThatNobodyDefines_IsCounted()
    {
        Say("C1FFFF01");
        Say("82AA");
        Assert.Contains("2 messages have an opcode that no published specification defines", Unwrapped(), StringComparison.Ordinal);
    }

    [Fact]
    public void WhatFits_IsNoSection()
    {
        Say("82020107");
        Assert.DoesNotContain("do not fit", _story.Explain(), StringComparison.Ordinal);
    }

    private void Say(string payload) => _story.Message(0x0003, 0xC001, 1, Convert.FromHexString(payload));

    private string Unwrapped() => string.Join(' ', _story.Explain().Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
}
