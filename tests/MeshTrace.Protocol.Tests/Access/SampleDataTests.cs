using System.Text.Json;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Tests.Vectors;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Protocol.Tests.Access;

/// <summary>The worked examples of Mesh Protocol 1.1 §8 that carry access payloads or control parameters, in both directions.</summary>
public class SampleDataTests
{
    // The longest access message of the supplement is the octets 0, 1, 2, ...: no message of the standard.
    public static TheoryData<string> AccessPayloads => [.. Messages("access_payload").Where(vector => vector.Id != "sup-longest-access").Select(vector => vector.Id)];

    public static TheoryData<string> ControlParameters => [.. Messages("control_parameters").Select(vector => vector.Id)];

    [Theory, MemberData(nameof(AccessPayloads))]
    public void SpecVector_AccessPayloadIsReadAndWrittenBack(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] payload = vector.In("access_payload");
        DecodedMessage message = AccessReader.Read(payload);
        Assert.False(message.Problem.IsProblem, message.Problem.ToString());
        if (NameOf(vector) is not "vendor message")
            Assert.NotNull(message.Definition);
        if (NameOf(vector) is { } name and not "vendor message")
            Assert.Equal(name, message.Definition!.Name);
        Assert.Equal(Convert.ToHexString(payload), Convert.ToHexString(AccessWriter.Write(message)));
    }

    [Theory, MemberData(nameof(ControlParameters))]
    public void SpecVector_ControlMessageIsReadAndWrittenBack(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] parameters = vector.In("control_parameters");
        DecodedControl message = ControlReader.Read(vector.In("control_opcode")[0], parameters);
        Assert.False(message.Problem.IsProblem, message.Problem.ToString());
        Assert.NotNull(message.Definition);
        if (NameOf(vector) is { } name)
            Assert.Equal(name, message.Definition.Name);
        Assert.Equal(Convert.ToHexString(parameters), Convert.ToHexString(ControlWriter.Write(message)));
    }

    private static IEnumerable<Vector> Messages(string with) => VectorFile.SampleData.All.Where(vector => vector.Kind == "message" && vector.Has(with));

    private static string? NameOf(Vector vector) =>
        vector.Json.TryGetProperty("meaning", out JsonElement meaning) ? meaning.Text("message").TrimEnd(',') : null;
}
