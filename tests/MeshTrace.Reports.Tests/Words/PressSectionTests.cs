using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Reports.Tests.Support;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Tests.Words;

public sealed class PressSectionTests
{
    /// <summary>Whether names fit is told from the first few where that is sure: the same as writing all of them and measuring (arithmetic, no source).</summary>
    [Theory]
    [InlineData("stairs", "reading room", "lamp")]
    [InlineData("阅览室", "gallery", "e\u0301tude \u0301")]
    [InlineData("\u0600", "\uFE0F x", "👩‍🏫 room")]
    public void NamesOfTheSilent_AreShownWhereTheyFit(params string[] names)
    {
        for (int silent = 1; silent <= names.Length; silent++)
        {
            ushort[] expected = [.. Enumerable.Range(1, silent + 1).Select(element => (ushort)element)];
            Press press = Story.Press(PressOutcome.Some, expected, [(ushort)(silent + 1)]);
            var account = new Account(new Story().History, new Named(names), null);
            string detail = PressSection.DetailOf(press), all = $"{detail}; not {string.Join(", ", names.Take(silent))}";
            for (int columns = 1; columns < 60; columns++)
                Assert.Equal(DisplayWidth.Of(all) <= columns ? all : DisplayWidth.Cut(detail, columns), PressSection.DetailOf(press, account, columns));
        }
    }

    /// <summary>Names of the elements from 1 on; others by their address.</summary>
    private sealed class Named(string[] names) : INames
    {
        public string Short(MeshAddress address) => address.Value <= names.Length ? names[address.Value - 1] : Address(address);

        public string Full(MeshAddress address) => Short(address);

        public string Address(MeshAddress address) => address.ToString();

        public string InText(string text) => text;
    }
}
