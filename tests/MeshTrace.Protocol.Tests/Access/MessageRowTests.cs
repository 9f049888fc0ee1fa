using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Protocol.Tests.Access;

/// <summary>Every row of the catalogue is decoded and encoded again: plain layouts with made payloads, the others
/// with those of <see cref="SpecialRowTests"/>; <see cref="CoverageDocumentTests"/> counts that none is left out.</summary>
public class MessageRowTests
{
    public static TheoryData<string> PlainRows => [.. AccessCatalogue.All.Where(row => PlainLayoutSample.IsPlain(row.LayoutText)).Select(row => row.Name)];

    [Theory, MemberData(nameof(PlainRows))]
    public void PlainRow_BoundaryValuesAreReadAndWrittenBack(string name)
    {
        MessageDefinition row = AccessCatalogue.Find(name)!;
        int variants = row.LayoutText.Contains("16/", StringComparison.Ordinal) ? 2 : 1;
        for (int variant = 0; variant < variants; variant++)
        {
            for (int runs = 0; runs <= PlainLayoutSample.Runs(row.LayoutText); runs++)
            {
                foreach (Filling filling in Enum.GetValues<Filling>())
                {
                    (byte[] octets, string fields) = PlainLayoutSample.Make(row.LayoutText, filling, runs, longForm: variant == 1);
                    byte[] payload = [.. Convert.FromHexString(row.Opcode.ToString()[2..]), .. octets];
                    DecodedMessage message = AccessReader.Read(payload);
                    Assert.Same(row, message.Definition);
                    Assert.False(message.Problem.IsProblem, $"{Convert.ToHexString(payload)}: {message.Problem}");
                    Assert.Equal(fields, FieldText.Of(message.Fields));
                    Assert.Equal(Convert.ToHexString(payload), Convert.ToHexString(AccessWriter.Write(message)));
                }
            }
        }
    }

    /// <summary>One octet short of a mandatory part is too short; one octet over a layout of fixed size is too long; what there is, is read.</summary>
    [Theory, MemberData(nameof(PlainRows))]
    public void PlainRow_WrongLengthIsSaid(string name)
    {
        MessageDefinition row = AccessCatalogue.Find(name)!;
        (byte[] octets, string fields) = PlainLayoutSample.Make(row.LayoutText, Filling.Distinct, runs: 0, longForm: false);
        byte[] opcode = Convert.FromHexString(row.Opcode.ToString()[2..]);
        bool isFixed = !row.LayoutText.Contains('*', StringComparison.Ordinal) && !row.LayoutText.Contains("var", StringComparison.Ordinal);
        if (!isFixed)
        {
            Assert.Equal(ProblemKind.None, AccessReader.Read([.. opcode, .. octets]).Problem.Kind);
            return;
        }
        if (octets.Length > 0)
        {
            DecodedMessage cut = AccessReader.Read([.. opcode, .. octets[..^1]]);
            Assert.Equal((ProblemKind.TooShort, Layer.Access, opcode.Length + octets.Length - 1), (cut.Problem.Kind, cut.Problem.Layer, cut.Problem.Had));
            Assert.StartsWith(FieldText.Of(cut.Fields).TrimEnd('}'), fields, StringComparison.Ordinal);
        }
        int runs = PlainLayoutSample.Runs(row.LayoutText);
        (octets, fields) = PlainLayoutSample.Make(row.LayoutText, Filling.Distinct, runs, longForm: true);
        DecodedMessage over = AccessReader.Read([.. opcode, .. octets, 0xA5]);
        Assert.Equal((ProblemKind.TooLong, opcode.Length + octets.Length), (over.Problem.Kind, over.Problem.Offset));
        Assert.Equal(fields, FieldText.Of(over.Fields));
    }
}
