using System.Globalization;
using System.Numerics;
using System.Text.RegularExpressions;

namespace MeshTrace.Protocol.Tests.Access;

/// <summary>What values the fields of a sample take.</summary>
public enum Filling
{
    /// <summary>Every bit 0, lists empty.</summary>
    Minimum,

    /// <summary>Every bit 1, lists of three.</summary>
    Maximum,

    /// <summary>Another value in each field, so that a field at the wrong place shows; lists of two.</summary>
    Distinct,
}

/// <summary>
/// Payloads with known fields for the rows whose layout is plain: sizes, optional runs, lists and groups, but nothing that another field decides.
/// It reads the layout text itself and lays the bits into one large integer, so that it shares no code with the reader that it tests.
/// </summary>
internal sealed partial class PlainLayoutSample
{
    private readonly Filling _filling;
    private readonly int _runs;
    private readonly bool _longForm;
    private BigInteger _bits;
    private int _length;
    private uint _seed = 1;

    private PlainLayoutSample(Filling filling, int runs, bool longForm)
    {
        _filling = filling;
        _runs = runs;
        _longForm = longForm;
    }

    public static bool IsPlain(string layout) => layout == "-" || Items(layout).All(item => ItemPattern().IsMatch(item)
        || (GroupPattern().Match(item) is { Success: true } group && IsPlain(group.Groups["inner"].Value) && Runs(group.Groups["inner"].Value) == 0));

    /// <summary>Number of optional runs: a sample has the first 0, 1, ... of them.</summary>
    public static int Runs(string layout) => Items(layout).Select(item => ItemPattern().Match(item).Groups["run"].Value).Where(run => run.Length > 0).Distinct().Count();

    /// <param name="layout">A plain layout.</param>
    /// <param name="filling">The values.</param>
    /// <param name="runs">How many of the optional runs are there.</param>
    /// <param name="longForm">The longer form of model identifiers and address ranges.</param>
    public static (byte[] Octets, string Fields) Make(string layout, Filling filling, int runs, bool longForm)
    {
        if (layout == "-")
            return ([], "");
        var sample = new PlainLayoutSample(filling, runs, longForm);
        string fields = sample.Fields(layout);
        byte[] octets = new byte[(sample._length + 7) / 8];
        byte[] written = sample._bits.ToByteArray(isUnsigned: true);    // least significant octet first, as on the air
        written.AsSpan(0, Math.Min(written.Length, octets.Length)).CopyTo(octets);
        return (octets, fields);
    }

    [GeneratedRegex(@"^(?<name>[\w-]+):(?:(?<special>16/32|16/24|32m|var)|(?<bits>\d+)(?<kind>[so]?))(?<list>\*?)(?<run>(?:\?\d?)?)$")]
    private static partial Regex ItemPattern();

    [GeneratedRegex(@"^(?<name>[\w-]+)\{(?<inner>.*)\}\*$")]
    private static partial Regex GroupPattern();

    private static List<string> Items(string layout)
    {
        var items = new List<string>();
        int depth = 0, start = 0;
        for (int i = 0; i <= layout.Length; i++)
        {
            if (i == layout.Length || (layout[i] == ',' && depth == 0))
            {
                items.Add(layout[start..i]);
                start = i + 1;
            }
            else
                depth += layout[i] switch { '{' => 1, '}' => -1, _ => 0 };
        }
        return items;
    }

    private string Fields(string layout)
    {
        var said = new List<string>();
        var runs = new List<string>();
        foreach (string item in Items(layout))
        {
            Match match = ItemPattern().Match(item);
            if (!match.Success)
            {
                Match group = GroupPattern().Match(item);
                said.Add($"{group.Groups["name"].Value}=[{List(() => "{" + Fields(group.Groups["inner"].Value) + "}")}]");
                continue;
            }
            string run = match.Groups["run"].Value;
            if (run.Length > 0)
            {
                if (!runs.Contains(run))
                    runs.Add(run);
                if (runs.IndexOf(run) >= _runs)
                    continue;
            }
            string value = match.Groups["list"].Length > 0 ? $"[{List(() => Value(match))}]" : Value(match);
            said.Add($"{match.Groups["name"].Value}={value}");
        }
        return string.Join(' ', said);
    }

    private string List(Func<string> element)
    {
        int count = _filling switch { Filling.Minimum => 0, Filling.Maximum => 3, _ => 2 };
        return string.Join(',', Enumerable.Range(0, count).Select(_ => element()));
    }

    private string Value(Match match)
    {
        switch (match.Groups["special"].Value)
        {
            case "var":     // one octet at least, for an optional one that is there
                return Octets(_filling switch { Filling.Minimum => match.Groups["run"].Length > 0 ? 1 : 0, Filling.Maximum => 4, _ => 5 });
            case "16/32" when !_longForm:
                return Unsigned(16).ToString(CultureInfo.InvariantCulture);
            case "16/32" or "32m":
                ulong company = Unsigned(16);
                return ((company << 16) | Unsigned(16)).ToString(CultureInfo.InvariantCulture);
            case "16/24":
                Lay(_longForm ? 1u : 0u, 1);
                string range = $"{{LengthPresent={(_longForm ? 1 : 0)} RangeStart={Unsigned(15)}";
                return range + (_longForm ? $" RangeLength={Unsigned(8)}}}" : "}");
        }
        int bits = int.Parse(match.Groups["bits"].Value, CultureInfo.InvariantCulture);
        return match.Groups["kind"].Value switch
        {
            "o" => Octets(bits / 8),
            "s" => Signed(Unsigned(bits), bits).ToString(CultureInfo.InvariantCulture),
            _ => Unsigned(bits).ToString(CultureInfo.InvariantCulture),
        };
    }

    private static long Signed(ulong value, int bits) => value >> (bits - 1) == 0 ? (long)value : (long)value - (1L << bits);

    private string Octets(int count)
    {
        var octets = new byte[count];
        for (int i = 0; i < count; i++)
            octets[i] = (byte)Unsigned(8);
        return "#" + Convert.ToHexString(octets);
    }

    private ulong Unsigned(int bits)
    {
        ulong mask = bits == 64 ? ulong.MaxValue : (1UL << bits) - 1;
        ulong value = _filling switch { Filling.Minimum => 0, Filling.Maximum => mask, _ => Next() & mask };
        Lay(value, bits);
        return value;
    }

    private void Lay(ulong value, int bits)
    {
        _bits |= new BigInteger(value) << _length;
        _length += bits;
    }

    // A small linear congruential sequence: the same in every run, and no two neighbours alike.
    private ulong Next()
    {
        unchecked
        {
            _seed = (_seed * 1664525) + 1013904223;
            return ((ulong)_seed << 32) | (_seed * 2654435761);
        }
    }
}
